"""Deciding that a lot may be sold, and everything that takes the decision back."""

import threading
from typing import Any

import pytest
from werkzeug.test import TestResponse

from service.clearance.queries import certificates_differ
from service.core.db import Database
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_quarantine import ADULT, moved, quarantined
from tests.unchanged import unchanged


@pytest.fixture
def bench(api: Api) -> Bench:
    return Bench(api)


def certificate(bench: Bench, lot: str) -> Any:
    """The newest certificate of a lot."""
    return bench.api.auditor.seen(f"/lots/{lot}/certificates")["items"][0]


def decide(bench: Bench, lot: str, body: Any = None, role: str = "manager") -> TestResponse:
    client = getattr(bench.api, role)
    tag = client.get(f"/lots/{lot}").headers["ETag"]
    answer: TestResponse = client.post(f"/lots/{lot}/clearance", body or {}, If_Match=tag)
    return answer


def ready(bench: Bench, tub: str, **more: Any) -> str:
    """A lot that only waits for the decision, in a tub that has its log."""
    lot = quarantined(bench, tub, **more)
    bench.strain(tub, 3, 44)
    bench.look(7, tub_id=tub, method="bait")
    bench.look(45, lot_id=lot, sample_size=20)
    bench.look(49, lot_id=lot, sample_size=20)
    return lot


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
    assert (shown["policy"], shown["policy_version"], shown["rules_version"]) == ("strict", 1, "2")
    assert shown["release_day"] is not None
    assert 0.98 <= shown["probability_of_freedom"] == shown["freedom"][0]["probability"] < 1
    assert {judged["pest"] for judged in shown["freedom"]} >= {"bladder_snail", "pond_snail"}
    assert bench.api.auditor.get(f"/lots/{lot}/clearance?policy=none").status_code == 404


def test_the_strict_policy_asks_for_a_second_person(bench: Bench) -> None:
    tub = bench.tub("Q1")
    bench.logger(tub, 0, bench.age, 24)
    lot = ready(bench, tub)
    bench.api.manager.made("/inspections", {"lot_id": lot, "sample_size": 20, "findings": []})
    own = decide(bench, lot, {"policy": "strict"})
    assert own.get_json()["type"] == "/problems/second-person-needed"
    assert decide(bench, lot, {"policy": "strict"}, role="owner").status_code == 201


def test_copper_must_be_washed_out_before_a_lot_is_cleared(bench: Bench) -> None:
    bench.batch("copper-stock", 2, "L", copper_form="ionic")
    tub = bench.tub("Q1")
    lot = bench.lot("anubias-barteri", 20)["id"]
    treated = {"protocol": "copper-course", "version": 1, "tub_id": tub, "lot_ids": [lot]}
    treatment = bench.api.grower.made(
        "/treatments", {**treated, **bench.when(0.1), "trial_stems_reason": "tried on two pots"}
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


def test_water_that_comes_together_takes_the_certificates_in_it(bench: Bench) -> None:
    first, second = bench.tub("Q1"), bench.tub("Q2")
    lot = bench.cleared_lot(tub=first)
    other = quarantined(bench, second)
    refused = bench.api.grower.post(f"/lots/{lot}/moves", {"tub_id": second})
    assert refused.status_code == 409
    assert bench.see(lot)["state"] == "cleared"
    bench.api.grower.made(f"/lots/{other}/moves", {"tub_id": bench.tub("Q3"), **bench.when(bench.age - 0.5)})
    bench.api.grower.made(f"/lots/{lot}/moves", {"tub_id": second})
    assert bench.see(lot)["state"] == "cleared"  # empty water is nobody's
    late = quarantined(bench, bench.tub("Q4"), day=bench.age - 1)
    bench.api.grower.made(f"/lots/{late}/moves", {"tub_id": second, "share_water": True})
    assert bench.see(lot)["state"] == "in_quarantine"
    ended = certificate(bench, lot)
    assert (ended["status"], ended["end_reason"]) == ("revoked", "Its water came together with other water.")


def test_a_find_takes_the_certificate_of_a_lot_that_shared_the_water_before(bench: Bench) -> None:
    tub = bench.tub("Q1")
    bench.logger(tub, 0, bench.age, 24)
    stays = quarantined(bench, tub)
    lot = ready(bench, tub, share_water=True)
    assert decide(bench, lot).status_code == 201
    moved(bench, lot, bench.tub("Q2"), bench.age - 0.01)
    bench.look(bench.age, lot_id=stays, sample_size=20, findings=[ADULT])
    after = bench.see(lot)
    assert (after["state"], after["certificate_serial"]) == ("in_quarantine", None)
    assert after["clock_started_at"] is None
    assert certificate(bench, lot)["status"] == "revoked"


def test_a_find_that_restarts_the_clock_of_its_day_takes_a_certificate_given_since(bench: Bench) -> None:
    tub = bench.tub("Q1")
    bench.logger(tub, 0, bench.age, 24)
    stays, lot = quarantined(bench, tub), quarantined(bench, tub, share_water=True)
    own = bench.tub("Q2")
    bench.logger(own, 0, bench.age, 24)
    moved(bench, lot, own, 2)
    bench.look(3, tub_id=own, method="strain")
    bench.look(7, tub_id=own, method="bait")
    bench.look(45, lot_id=lot, sample_size=20)
    bench.look(49, lot_id=lot, sample_size=20)
    assert decide(bench, lot).status_code == 201
    bench.look(20, lot_id=stays, sample_size=20, findings=[ADULT])
    assert bench.see(lot)["state"] == "cleared"  # its clock had started after the waters were parted
    bench.look(4, lot_id=stays, sample_size=20, findings=[ADULT])
    assert bench.see(lot)["state"] == "in_quarantine"  # on that day it had not


def test_a_find_takes_the_certificate_of_a_lot_that_was_sold_out(bench: Bench) -> None:
    tub = bench.tub("Q1")
    bench.logger(tub, 0, bench.age, 24)
    stays = quarantined(bench, tub)
    lot = ready(bench, tub, share_water=True)
    assert decide(bench, lot).status_code == 201
    sale = {"order_ref": "W-9", "customer_ref": "customer 4", "lines": [{"lot_id": lot, "quantity": 20}]}
    bench.api.shop.made("/dispatches", sale)
    bench.look(bench.age, lot_id=stays, sample_size=20, findings=[ADULT])
    assert bench.see(lot)["state"] == "closed"
    assert certificate(bench, lot)["status"] == "revoked"
    kinds = [item["kind"] for item in bench.api.auditor.seen(f"/lots/{lot}/history?limit=200")["items"]]
    assert "lot.customers_to_tell" in kinds


def test_a_voided_find_does_not_bring_the_certificate_back(bench: Bench) -> None:
    lot = bench.cleared_lot()
    look = bench.look(bench.age, lot_id=lot, sample_size=20, findings=[ADULT])
    bench.api.manager.made(f"/inspections/{look['id']}/void", {"reason": "an empty shell"})
    assert bench.see(lot)["state"] == "in_quarantine"
    assert certificate(bench, lot)["status"] == "revoked"
    assert decide(bench, lot).status_code == 201  # but nothing keeps it from a new one
    statuses = [c["status"] for c in bench.api.auditor.seen(f"/lots/{lot}/certificates")["items"]]
    assert statuses == ["valid", "revoked"]


def test_a_cleared_lot_that_goes_back_or_is_rejected_loses_its_certificate(bench: Bench) -> None:
    lot = bench.cleared_lot()
    bench.api.grower.made(f"/lots/{lot}/moves", {"to": "in_quarantine", "reason": "a doubt"})
    assert certificate(bench, lot)["end_reason"] == "a doubt"
    assert decide(bench, lot).status_code == 201
    rejected = {"quantity": 20, "way": "destroyed", "reason": "rot"}
    assert bench.api.manager.post(f"/lots/{lot}/rejection", rejected).status_code in {200, 201}
    assert certificate(bench, lot)["status"] == "revoked"


def test_both_parts_of_a_split_lot_get_a_certificate_of_their_own(bench: Bench, database: Database) -> None:
    lot = bench.cleared_lot()
    former = certificate(bench, lot)
    part = bench.api.grower.made(f"/lots/{lot}/splits", {"quantity": 6})["id"]
    parts = [certificate(bench, lot), certificate(bench, part)]
    assert [(c["status"], c["quantity"]) for c in parts] == [("valid", 14), ("valid", 6)]
    assert {c["expires_at"] for c in parts} == {former["expires_at"]}
    assert [bench.see(id_)["certificate_serial"] for id_ in (lot, part)] == [c["serial"] for c in parts]
    assert bench.api.auditor.seen(f"/certificates/{former['serial']}")["status"] == "superseded"
    with database.reading() as session:
        assert certificates_differ(session) == []


def test_a_lot_split_off_whole_leaves_no_certificate_behind(bench: Bench) -> None:
    lot = bench.cleared_lot()
    part = bench.api.grower.made(f"/lots/{lot}/splits", {"quantity": 20})["id"]
    assert bench.see(lot)["state"] == "closed"
    assert certificate(bench, lot)["status"] == "superseded"
    assert (certificate(bench, part)["status"], certificate(bench, part)["quantity"]) == ("valid", 20)


def test_a_find_against_a_clearance_never_ends_cleared(bench: Bench) -> None:
    tub = bench.tub("Q1")
    bench.logger(tub, 0, bench.age, 24)
    lot = ready(bench, tub)
    for _ in range(10):
        start = threading.Barrier(2)
        answers: dict[str, Any] = {}

        def clear(start: threading.Barrier = start, answers: dict[str, Any] = answers) -> None:
            start.wait()
            answers["clear"] = decide(bench, lot).status_code

        def find(start: threading.Barrier = start, answers: dict[str, Any] = answers) -> None:
            start.wait()
            body = {"lot_id": lot, "sample_size": 20, "findings": [ADULT]}
            answers["find"] = bench.api.grower.post("/inspections", body)

        threads = [threading.Thread(target=act) for act in (clear, find)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert answers["find"].status_code == 201
        assert answers["clear"] in {201, 409, 412}
        assert bench.see(lot)["state"] == "in_quarantine"
        assert bench.see(lot)["certificate_serial"] is None
        void = f"/inspections/{answers['find'].get_json()['id']}/void"
        bench.api.manager.made(void, {"reason": "next round"})
