"""Clocks follow facts at once, release days by owed jobs; what is stored is what the facts give."""

import pytest

from service.core.db import Database
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_quarantine import ADULT, listed, moved, quarantined, work_done


@pytest.fixture
def bench(api: Api) -> Bench:
    return Bench(api, age=40)


def winding(bench: Bench, tub: str, first: float = 3) -> None:
    """Two clean looks for adults, so that the clock starts at the first."""
    bench.look(first, tub_id=tub, method="strain")
    bench.look(first + 4, tub_id=tub, method="bait")


def test_the_release_day_follows_the_water_once_the_job_is_done(bench: Bench, database: Database) -> None:
    tub = bench.tub("Q1")
    lot = quarantined(bench, tub)
    winding(bench, tub)
    bench.logger(tub, 0, 40, 24)
    assert listed(bench, lot)["release_day_stale"]
    work_done(database)
    warm = listed(bench, lot)
    assert not warm["release_day_stale"]
    assert warm["clock_started_at"] == bench.when(3)["at"]
    assert warm["release_day"] is not None
    for reading in bench.api.grower.seen(f"/tubs/{tub}/temperatures?limit=200")["items"][24 * 3 :]:
        bench.api.grower.made(f"/temperatures/{reading['id']}/void", {"reason": "probe out of the water"})
    assert listed(bench, lot)["release_day_stale"]


def test_a_cold_week_moves_the_release_day_back(bench: Bench, database: Database) -> None:
    warm, cold = bench.tub("Q1"), bench.tub("Q2")
    lots = [quarantined(bench, tub) for tub in (warm, cold)]
    for tub in (warm, cold):
        winding(bench, tub)
    bench.logger(warm, 0, 30, 22)
    bench.logger(cold, 0, 23, 22)
    bench.logger(cold, 23.05, 30, 12)
    work_done(database)
    days = [listed(bench, lot)["release_day"] for lot in lots]
    assert days[0] < days[1]


def test_a_lot_in_no_tub_has_no_release_day_and_the_gate_says_why(bench: Bench, database: Database) -> None:
    lot = bench.lot("anubias-barteri", 10)["id"]
    work_done(database)
    assert listed(bench, lot)["release_day"] is None
    assert "two clean looks" in bench.gates(lot)["hatch_out"]["reason"]


def test_a_credited_course_starts_the_clock_while_it_runs(bench: Bench) -> None:
    bench.batch("copper-stock", 2, "L", copper_form="ionic")
    tub = bench.tub("Q1")
    lot = bench.lot("anubias-barteri", 20)["id"]
    body = {"protocol": "copper-course", "version": 1, "tub_id": tub, "lot_ids": [lot], **bench.when(0.1)}
    treatment = bench.api.grower.made(
        "/treatments", {**body, "trial_stems_reason": "tried on two pots", "survived_here": 5}
    )
    steps = f"/treatments/{treatment['id']}/steps"
    bench.api.grower.made(f"{steps}/1/start", bench.when(0.1))
    bench.api.grower.made(f"{steps}/1/finish", bench.when(0.11))
    bench.api.grower.made(f"{steps}/2/start", bench.when(0.11))
    for day in (3, 7, 10):
        bench.api.grower.made(
            f"/tubs/{tub}/water-changes", {**bench.when(day), "fraction": 1, "redose": True}
        )
        assert bench.see(lot)["clock_started_at"] is None
    reading = {"substance": "copper", "value": 0.4, "kit": "drop test"}
    bench.api.grower.made(f"/tubs/{tub}/measurements", {**reading, **bench.when(10.5)})
    assert bench.see(lot)["clock_started_at"] == bench.when(10.5)["at"]


def test_a_find_restarts_the_clock_of_a_lot_that_has_left_that_water(bench: Bench) -> None:
    first, second = bench.tub("Q1"), bench.tub("Q2")
    stays = quarantined(bench, first)
    goes = quarantined(bench, first, share_water=True)
    winding(bench, first)
    moved(bench, goes, second, 10)
    before = bench.see(goes)
    assert before["clock_started_at"] == bench.when(3)["at"]
    bench.look(15, lot_id=stays, sample_size=20, findings=[ADULT])
    winding(bench, second, first=20)
    after = bench.see(goes)
    assert after["clock_started_at"] == bench.when(20)["at"]
    assert after["version"] > before["version"]


def test_a_find_leaves_alone_what_never_shared_its_water(bench: Bench) -> None:
    first, second = bench.tub("Q1"), bench.tub("Q2")
    found, apart = quarantined(bench, first), quarantined(bench, second)
    winding(bench, second)
    before = bench.see(apart)
    bench.look(15, lot_id=found, sample_size=20, findings=[ADULT])
    assert bench.see(apart) == before


def test_a_find_in_water_that_a_tool_carried_restarts_the_clock(bench: Bench) -> None:
    first, second = bench.tub("Q1"), bench.tub("Q2")
    source, reached = quarantined(bench, first), quarantined(bench, second)
    net = bench.api.grower.made("/tools", {"code": "net 1", "kind": "net"})["id"]
    for tub, day in ((first, 2.0), (second, 2.1)):
        bench.api.grower.made(f"/tools/{net}/uses", {"tub_id": tub, **bench.when(day)})
    winding(bench, second)
    assert bench.see(reached)["clock_started_at"] == bench.when(3)["at"]
    bench.look(9, lot_id=source, sample_size=20, findings=[ADULT])  # the net came before the clock started
    assert bench.see(reached)["clock_started_at"] == bench.when(3)["at"]
    bench.look(4, lot_id=source, sample_size=20, findings=[ADULT])  # it had not started on that day
    assert bench.see(reached)["clock_started_at"] is None


def test_a_voided_find_gives_the_clock_back(bench: Bench) -> None:
    tub = bench.tub("Q1")
    lot = quarantined(bench, tub)
    winding(bench, tub)
    look = bench.look(15, lot_id=lot, sample_size=20, findings=[ADULT])
    assert bench.see(lot)["clock_started_at"] is None
    bench.api.manager.made(f"/inspections/{look['id']}/void", {"reason": "an empty shell"})
    assert bench.see(lot)["clock_started_at"] == bench.when(3)["at"]


def test_a_part_split_off_keeps_the_clock_and_the_looks_so_far(bench: Bench, database: Database) -> None:
    tub = bench.tub("Q1")
    lot = quarantined(bench, tub)
    winding(bench, tub)
    part = bench.api.grower.made(f"/lots/{lot}/splits", {"quantity": 5, "tub_id": bench.tub("Q2")})["id"]
    work_done(database)
    assert bench.see(part)["clock_started_at"] == bench.when(3)["at"]
    assert bench.api.auditor.seen(f"/lots/{part}/clearance")["gates"][0]["ok"]


def test_after_repacking_a_look_is_owed(bench: Bench) -> None:
    tub = bench.tub("Q1")
    lot = quarantined(bench, tub)
    winding(bench, tub)
    bench.logger(tub, 0, 40, 26)
    bench.look(33, lot_id=lot, sample_size=20)
    bench.look(37, lot_id=lot, sample_size=20)
    assert bench.gates(lot)["clean_inspections"]["ok"]
    repack = {"kind": "divide", "from_quantity": 20, "to_quantity": 40}
    bench.api.grower.made(f"/lots/{lot}/repack", {**repack, **bench.when(38)})
    assert not bench.gates(lot)["clean_inspections"]["ok"]
    bench.look(39, lot_id=lot, sample_size=40)
    assert bench.gates(lot)["clean_inspections"]["ok"]
