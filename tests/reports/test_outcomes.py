"""The report of outcomes over HTTP: what became of real lots."""

from typing import Any

import pytest

from service.clearance.judging import judge
from service.core import among
from service.core.clock import utc_now
from service.core.db import Database
from service.lots.models import Lot
from service.quarantine.queries import policy
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_trials import ALUM, CONTROL, Trying

SNAIL = {"pest": "bladder_snail", "stage": "adult", "live": 2, "dead": 0, "removed": True}


def rows(api: Api, by: str, **more: str) -> Any:
    query = "&".join(f"{name}={value}" for name, value in {"by": by, **more}.items())
    return api.auditor.seen(f"/reports/outcomes?{query}")["rows"]


@pytest.fixture
def bench(api: Api) -> Bench:
    """One lot that stays clean after its time alone, one that does not, one treated and never looked at."""
    bench = Bench(api)
    clean, infested, unseen = (bench.lot("anubias-barteri", 10)["id"] for _ in range(3))
    bench.look(0.01, lot_id=infested, sample_size=10, findings=[SNAIL])
    for n, lot in enumerate((clean, infested, unseen)):
        bench.treat("quarantine-only", bench.tub(f"Q{n}"), [lot], 0.1, [1])
    bench.look(7, lot_id=clean, sample_size=10)
    bench.look(7, lot_id=infested, sample_size=10, findings=[SNAIL])
    bench.api.grower.made(f"/lots/{clean}/losses", {"quantity": 2, "cause": "melt", **bench.when(8)})
    return bench


def test_what_became_of_lots_is_told_by_what_was_done_to_them(bench: Bench) -> None:
    [row] = rows(bench.api, "protocol")
    assert row["key"] == "quarantine-only/1"
    assert (row["lots"], row["not_looked_at"]) == (3, 1)
    assert row["live_after"] == {"count": 1, "of": 2, "share": None}
    assert row["infested_on_arrival"]["count"] == 1
    assert row["units"] == {"n": 30, "lost": {"melt": 2}, "share": None}
    assert row["days_to_release"]["n"] == 0
    [pest] = rows(bench.api, "pest")
    assert (pest["key"], pest["live_after"]["count"]) == ("bladder_snail", 1)
    assert [row["key"] for row in rows(bench.api, "supplier")] == ["Fenmarsh Growers"]
    assert [row["key"] for row in rows(bench.api, "plant")] == ["Anubias barteri"]
    assert sum(row["lots"] for row in rows(bench.api, "month")) == 3


def test_ten_thousand_lots_are_read_as_three_are(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    few = {by: rows(bench.api, by) for by in ("protocol", "pest", "supplier", "plant", "month")}
    monkeypatch.setattr(among, "FEW", 0)  # more ids than this are bound as one value
    assert {by: rows(bench.api, by) for by in few} == few


def test_lots_of_trials_are_no_ordinary_work(bench: Bench) -> None:
    Trying(bench).lay_out([ALUM, CONTROL])
    [row] = rows(bench.api, "plant")
    assert row["lots"] == 4  # the three and the lot that the units were taken from


def test_the_report_is_one_of_the_days_asked_for_and_a_file_if_wanted(bench: Bench) -> None:
    day = str(bench.start.date())
    assert rows(bench.api, "plant", **{"from": "2020-01-01", "to": "2020-02-01"}) == []
    assert len(rows(bench.api, "plant", **{"from": day, "to": day})) == 1
    wrong = bench.api.auditor.get("/reports/outcomes?from=2026-02-02&to=2026-02-01")
    assert (wrong.status_code, wrong.get_json()["errors"][0]["pointer"]) == (422, "#/query/from")
    file = bench.api.auditor.get("/reports/outcomes", Accept="text/csv").get_data(as_text=True)
    assert file.splitlines()[0].startswith("key,lots,live_after.count")


def test_days_and_material_of_a_cleared_lot_are_counted(api: Api) -> None:
    bench = Bench(api)
    bench.cleared_lot(20)
    [row] = rows(api, "protocol")
    assert row["days_to_release"]["n"] == 1
    assert row["days_to_release"]["median"] == pytest.approx(50, abs=1)


def test_a_part_split_off_and_a_harmless_animal_are_no_infested_arrival(bench: Bench) -> None:
    lot = bench.lot("anubias-barteri", 10)["id"]
    shrimp = {"pest": "ostracod", "stage": "adult", "live": 3, "dead": 0, "removed": False}
    bench.look(0.01, lot_id=lot, sample_size=10, findings=[shrimp])
    bench.api.grower.made(f"/lots/{lot}/splits", {"quantity": 4, "reason": "two tubs", **bench.when(0.02)})
    [row] = rows(bench.api, "supplier")
    assert row["lots"] == 5
    assert (row["infested_on_arrival"]["count"], row["infested_on_arrival"]["of"]) == (1, 2)


def test_a_supplier_s_prior_is_the_one_that_the_next_lot_is_judged_by(
    bench: Bench, database: Database
) -> None:
    lot = bench.lot("anubias-barteri", 10, day=1)["id"]
    bench.treat("quarantine-only", bench.tub("Q9"), [lot], 1.1, [1])
    for day, way in ((4, "strain"), (8, "bait")):
        bench.look(day, lot_id=lot, method=way, sample_size=10)
    [row] = rows(bench.api, "supplier")
    shown = {one["pest"]: one for one in row["freedom_prior"]}
    snail = shown["bladder_snail"]
    assert (snail["lots"], snail["clean_counts"]) == (1, False)
    assert (snail["alpha"], snail["beta"]) == (2, 9)
    with database.reading() as session:
        now = utc_now()
        judged = judge(session, session.get_one(Lot, lot), now, policy(session))
        expected = {one.pest: one.animals.expected for one in judged.inputs.suspects}
    assert expected == {pest: pytest.approx(one["expected_units"]) for pest, one in shown.items()}


def test_nobody_without_a_token_reads_it(api: Api) -> None:
    assert api.nobody.get("/reports/outcomes").status_code == 401
    assert api.shop.get("/reports/outcomes").status_code == 403
