"""The chance that none is left, over HTTP: from the supplier's record, the lot's finds, kills and looks."""

from typing import Any

import pytest

from tests.journeys.bench import Bench


def found(pest: str, stage: str, live: int) -> dict[str, Any]:
    return {"pest": pest, "stage": stage, "live": live, "dead": 0, "removed": True}


def waiting(bench: Bench, tub: str, *findings: dict[str, Any], day: float = 0) -> str:
    """A lot in quarantine without a treatment, looked at on arrival; its clock starts on day 3 of its own."""
    lot = str(bench.lot("anubias-barteri", 20, day=day)["id"])
    bench.look(day + 0.05, lot_id=lot, sample_size=20, findings=list(findings))
    bench.treat("quarantine-only", tub, [lot], day + 0.1, [1])
    bench.look(day + 3, tub_id=tub, method="strain")
    bench.look(day + 7, tub_id=tub, method="bait")
    return lot


def judged(bench: Bench, lot: str) -> dict[str, Any]:
    return {one["pest"]: one for one in bench.api.auditor.seen(f"/lots/{lot}/clearance")["freedom"]}


def test_before_the_clock_starts_nothing_is_said(bench: Bench) -> None:
    lot = bench.lot("anubias-barteri", 20)["id"]
    shown = bench.api.auditor.seen(f"/lots/{lot}/clearance")
    assert (shown["freedom"], shown["probability_of_freedom"]) == ([], None)
    gate = bench.gates(lot)["freedom"]
    assert (gate["ok"], gate["have"]) == (False, None)
    assert "clean looks" in gate["reason"]


def test_every_clean_look_raises_the_chance(bench: Bench) -> None:
    tub = bench.tub("Q1")
    bench.logger(tub, 0, bench.age, 24)
    lot = waiting(bench, tub)
    first = judged(bench, lot)["pond_snail"]["probability"]
    bench.strain(tub, 10.5, 40)
    strained = judged(bench, lot)["pond_snail"]["probability"]
    bench.look(41, lot_id=lot, sample_size=20)
    assert first < strained < judged(bench, lot)["pond_snail"]["probability"] < 1


def test_what_a_supplier_sent_before_is_held_against_his_next_lots(bench: Bench) -> None:
    clean = waiting(bench, bench.tub("Q1"))
    before = judged(bench, clean)["bladder_snail"]["probability"]
    waiting(bench, bench.tub("Q2"), found("bladder_snail", "egg", 2), found("planarian", "adult", 1))
    later = waiting(bench, bench.tub("Q4"), day=10)
    after = judged(bench, later)
    assert after["bladder_snail"]["probability"] < before
    assert "planarian" in after


def test_a_treated_lot_says_nothing_of_how_the_supplier_s_lots_come(bench: Bench) -> None:
    """Its first look came after the treatment began."""
    lot = bench.lot("anubias-barteri", 20)["id"]
    bench.treat("quarantine-only", bench.tub("Q1"), [lot], 0.1, [1])
    bench.look(5, lot_id=lot, sample_size=20, findings=[found("planarian", "adult", 1)])
    assert "planarian" not in judged(bench, waiting(bench, bench.tub("Q2"), day=10))


def test_a_find_that_hides_too_well_can_never_be_waited_out(bench: Bench) -> None:
    tub = bench.tub("Q1")
    bench.logger(tub, 0, bench.age, 24)
    lot = waiting(bench, tub, found("trumpet_snail", "adult", 9))
    bench.strain(tub, 10.5, 45)
    for day in (45, 49):
        bench.look(day, lot_id=lot, sample_size=20)
    gate = bench.gates(lot)["freedom"]
    assert not gate["ok"]
    assert gate["have"].endswith("(trumpet snail)")
    assert "treat again or reject" in gate["reason"]
    assert judged(bench, lot)["trumpet_snail"]["highest"] < 0.95


def test_a_warm_gap_of_more_than_three_weeks_voids_the_looks_before_it(bench: Bench) -> None:
    tub, cold = bench.tub("Q1"), bench.tub("Q2")
    bench.logger(tub, 0, bench.age, 24)
    bench.logger(cold, 0, bench.age, 19)
    lots = waiting(bench, tub), waiting(bench, cold)
    for lot in lots:
        bench.look(30, lot_id=lot, sample_size=20)
    warm, kept = (judged(bench, lot)["pond_snail"]["units_left"] for lot in lots)
    assert warm > kept


def test_only_the_newest_lots_of_a_supplier_are_held_against_him(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    waiting(bench, bench.tub("Q1"), found("planarian", "adult", 1))
    waiting(bench, bench.tub("Q2"), day=5)
    last = waiting(bench, bench.tub("Q3"), day=10)
    assert "planarian" in judged(bench, last)
    monkeypatch.setattr("service.quarantine.records.MOST_ARRIVALS", 1)
    assert "planarian" not in judged(bench, last)


def test_lots_that_came_later_say_nothing_of_one_that_came_before(bench: Bench) -> None:
    first = waiting(bench, bench.tub("Q1"))
    waiting(bench, bench.tub("Q2"), found("planarian", "adult", 1), day=5)
    assert "planarian" not in judged(bench, first)
