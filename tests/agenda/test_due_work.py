"""Due work is derived from facts, the earliest first."""

from typing import Any

from service.core.clock import utc_now
from service.core.db import Database
from service.wiring import JOBS
from tests.journeys.bench import Bench
from worker.owed import run_owed


def work(bench: Bench, query: str = "") -> list[Any]:
    return list(bench.api.grower.seen(f"/due-work{query}")["items"])


def soaking(bench: Bench) -> dict[str, Any]:
    """A lot in an alum soak that was started two days ago."""
    bench.batch("potassium-alum", 1000, "g")
    tub, lot = bench.tub("T1"), bench.lot("anubias-barteri", 10)["id"]
    body = {"protocol": "alum-soak", "version": 1, "tub_id": tub, "lot_ids": [lot], **bench.when(47)}
    treatment = bench.api.grower.made("/treatments", body)
    return {"tub": tub, "lot": lot, "treatment": treatment["id"]}


def test_a_step_that_runs_is_due_when_its_time_is_over(bench: Bench) -> None:
    found = soaking(bench)
    path = f"/treatments/{found['treatment']}/steps/1"
    started = bench.api.grower.made(f"{path}/start", bench.when(47.5))
    [item] = work(bench, "?kind=end_step")
    assert item["due_at"] == started["steps"][0]["due_at"]
    assert item["step"] == 1
    assert item["treatment_id"] == found["treatment"]
    assert item["tub"]["id"] == found["tub"]
    assert [lot["id"] for lot in item["lots"]] == [found["lot"]]
    assert item["overdue"]
    bench.api.grower.made(f"{path}/finish", {**bench.when(47.51)})
    assert work(bench, "?kind=end_step") == []


def test_a_rinse_waits_to_be_started(bench: Bench) -> None:
    soaking(bench)
    [item] = work(bench, "?kind=rinse")
    assert item["step"] == 1


def test_a_lot_in_quarantine_needs_its_water_changed(bench: Bench) -> None:
    tub, lot = bench.tub("T1"), bench.lot("anubias-barteri", 10)["id"]
    bench.treat("quarantine-only", tub, [lot], 40, [1])
    [item] = work(bench, "?kind=water_change")
    bench.api.grower.made(
        f"/tubs/{tub}/water-changes", {"fraction": 1.0, "redose": False, **bench.when(49.5)}
    )
    [later] = work(bench, "?kind=water_change")
    assert item["due_at"] < later["due_at"]


def test_looks_and_decisions_follow_the_projection(bench: Bench, database: Database) -> None:
    tub, lot = bench.tub("T1"), bench.lot("anubias-barteri", 10)["id"]
    bench.treat("quarantine-only", tub, [lot], 0.1, [1])
    bench.logger(tub, 0, bench.age, 24)
    bench.look(3, tub_id=tub, method="strain")
    bench.look(7, tub_id=tub, method="bait")
    run_owed(database, JOBS, utc_now)
    assert [item["lots"][0]["id"] for item in work(bench, "?kind=inspect")] == [lot]
    assert work(bench, "?kind=decide") == []
    bench.look(bench.age - 5, lot_id=lot, sample_size=10)
    bench.look(bench.age - 1, lot_id=lot, sample_size=10)
    run_owed(database, JOBS, utc_now)
    assert [item["lots"][0]["id"] for item in work(bench, "?kind=decide")] == [lot]
    assert work(bench, "?kind=inspect") == []


def test_the_same_work_has_the_same_id_and_comes_in_order(bench: Bench) -> None:
    soaking(bench)
    tub, lot = bench.tub("T2"), bench.lot("anubias-barteri", 10)["id"]
    bench.treat("quarantine-only", tub, [lot], 40, [1])
    first, again = work(bench), work(bench)
    assert [item["id"] for item in first] == [item["id"] for item in again]
    assert [item["due_at"] for item in first] == sorted(item["due_at"] for item in first)


def test_what_is_due_later_can_be_left_out(bench: Bench) -> None:
    soaking(bench)
    assert work(bench, "?until=2020-01-01T00:00:00Z") == []


def test_work_without_an_assignee_is_shown_to_each(bench: Bench) -> None:
    soaking(bench)
    assert work(bench, "?kind=rinse&assignee=anybody") == work(bench, "?kind=rinse")


def test_a_decision_keeps_its_id_from_night_to_night(bench: Bench, database: Database, cleared: str) -> None:
    bench.api.grower.made(f"/lots/{cleared}/moves", {"to": "in_quarantine", "reason": "a doubt"})
    found = []
    for _ in range(2):
        bench.look(bench.age - 0.5, lot_id=cleared, sample_size=20)
        run_owed(database, JOBS, utc_now)
        found.append([item["id"] for item in work(bench, "?kind=decide")])
    assert found[0] == found[1]
    assert len(found[0]) == 1
