"""Deciding that a lot may be sold."""

from service.core.db import Database
from tests.journeys.bench import Bench
from tests.make_clearance import decide, ready
from tests.make_quarantine import quarantined
from tests.unchanged import unchanged


def test_a_lot_that_is_not_ready_is_refused_with_every_gate_that_is_shut_and_nothing_changes(
    bench: Bench, database: Database
) -> None:
    lot = quarantined(bench, bench.tub("Q1"))
    bench.api.seller.made(f"/lots/{lot}/holds", {"cause": "doubt", "reason": "a leaf looks odd"})
    with unchanged(database):
        answer = decide(bench, lot)
    assert answer.status_code == 409
    problem = answer.get_json()
    assert problem["type"] == "/problems/gates-not-met"
    assert problem["current_state"] == "in_quarantine"
    assert [reason["code"] for reason in problem["reasons"]] == [
        "hatch_out",
        "visibility",
        "floor_days",
        "clean_inspections",
        "freedom",
        "temperature_log",
        "no_hold",
    ]


def test_only_a_lot_in_quarantine_can_be_cleared(bench: Bench) -> None:
    lot = bench.lot("anubias-barteri", 10)["id"]
    problem = decide(bench, lot).get_json()
    assert problem["type"] == "/problems/transition-not-allowed"
    assert problem["allowed"] == ["in_quarantine", "in_treatment", "rejected"]


def test_the_decision_needs_the_version_that_was_seen_and_a_manager(bench: Bench) -> None:
    lot = ready(bench, bench.tub("Q1"))
    path = f"/lots/{lot}/clearance"
    assert bench.api.manager.post(path).status_code == 428
    assert bench.api.manager.post(path, If_Match='"old-1"').status_code == 412
    for client in (bench.api.grower, bench.api.seller, bench.api.shop, bench.api.auditor):
        assert client.post(path, If_Match="*").status_code == 403


def test_a_decision_dated_before_the_last_look_is_refused(bench: Bench) -> None:
    tub = bench.tub("Q1")
    bench.logger(tub, 0, bench.age, 24)
    lot = ready(bench, tub)
    problem = decide(bench, lot, bench.when(48)).get_json()
    assert [reason["code"] for reason in problem["reasons"]] == ["clean_inspections"]
    assert decide(bench, lot, bench.when(49.5)).status_code == 201


def test_gates_are_judged_afresh_and_shown_with_their_versions(bench: Bench) -> None:
    tub = bench.tub("Q1")
    bench.logger(tub, 0, bench.age, 24)
    lot = ready(bench, tub)
    shown = bench.api.auditor.seen(f"/lots/{lot}/clearance?policy=strict")
    assert shown["decidable"]
    assert (shown["policy"], shown["policy_version"], shown["rules_version"]) == ("strict", 3, "5")
    assert shown["release_day"] is not None
    assert 0.98 <= shown["probability_of_freedom"] == shown["freedom"][0]["probability"] < 1
    assert {judged["pest"] for judged in shown["freedom"]} >= {"bladder_snail", "pond_snail"}
    assert bench.api.auditor.get(f"/lots/{lot}/clearance?policy=none").status_code == 404


def test_copper_must_be_washed_out_before_a_lot_is_cleared(bench: Bench) -> None:
    bench.batch("copper-stock", 2, "L", copper_form="ionic")
    tub = bench.tub("Q1")
    lot = bench.lot("anubias-barteri", 20)["id"]
    treated = {"protocol": "copper-course", "version": 1, "tub_id": tub, "lot_ids": [lot]}
    treatment = bench.api.grower.made(
        "/treatments",
        {**treated, **bench.when(0.1), "trial_stems_reason": "tried on two pots", "survived_here": 5},
    )["id"]
    for n, first, last in ((1, 0.1, 0.11), (2, 0.11, 28.11), (3, 28.11, 28.12)):
        path = f"/treatments/{treatment}/steps/{n}"
        bench.api.grower.made(f"{path}/start", bench.when(first))
        bench.api.grower.made(f"{path}/finish", bench.when(last))
    bench.api.grower.made(f"/treatments/{treatment}/finish", bench.when(28.12))
    gate = bench.gates(lot)["residue"]
    assert not gate["ok"]
    assert "3 full water changes over 7 days" in gate["needed"]
    for day in (30, 33, 36):
        change = {**bench.when(day), "fraction": 1, "redose": False}
        bench.api.grower.made(f"/tubs/{tub}/water-changes", change)
    assert "No copper reading" in bench.gates(lot)["residue"]["reason"]
    reading = {"substance": "copper", "value": 0.02, "kit": "drop test", **bench.when(37)}
    bench.api.grower.made(f"/tubs/{tub}/measurements", reading)
    assert bench.gates(lot)["residue"]["ok"]


def test_moss_is_cleared_by_straining_and_baiting(bench: Bench) -> None:
    tub = bench.tub("Q1")
    bench.logger(tub, 0, bench.age, 24)
    lot = bench.lot("taxiphyllum-barbieri", 10, unit_of_sale="portion")["id"]
    bench.treat("quarantine-only", tub, [lot], 0.1, [1])
    bench.strain(tub, 3, 45)
    for day in (7, 49):
        bench.look(day, tub_id=tub, method="bait")
    assert decide(bench, lot).status_code == 201
