"""What becomes of a certificate: everything that takes the decision back, and lots that are split."""

import threading
from typing import Any

import pytest

from service.clearance.queries import certificates_differ
from service.core.db import Database
from tests.journeys.bench import Bench
from tests.make_clearance import decide, ready
from tests.make_quarantine import ADULT, moved, quarantined, work_done


def certificate(bench: Bench, lot: str) -> Any:
    """The newest certificate of a lot."""
    return bench.api.auditor.seen(f"/lots/{lot}/certificates")["items"][0]


@pytest.mark.promise(r=6)
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


def test_a_voided_find_does_not_bring_the_certificate_back(bench: Bench, cleared: str) -> None:
    look = bench.look(bench.age, lot_id=cleared, sample_size=20, findings=[ADULT])
    bench.api.manager.made(f"/inspections/{look['id']}/void", {"reason": "an empty shell"})
    assert bench.see(cleared)["state"] == "in_quarantine"
    assert certificate(bench, cleared)["status"] == "revoked"
    assert decide(bench, cleared).status_code == 201  # but nothing keeps it from a new one
    statuses = [c["status"] for c in bench.api.auditor.seen(f"/lots/{cleared}/certificates")["items"]]
    assert statuses == ["valid", "revoked"]


def test_a_cleared_lot_that_goes_back_or_is_rejected_loses_its_certificate(
    bench: Bench, cleared: str
) -> None:
    bench.api.grower.made(f"/lots/{cleared}/moves", {"to": "in_quarantine", "reason": "a doubt"})
    assert certificate(bench, cleared)["end_reason"] == "a doubt"
    assert decide(bench, cleared).status_code == 201
    rejected = {"quantity": 20, "way": "destroyed", "reason": "rot"}
    assert bench.api.manager.post(f"/lots/{cleared}/rejection", rejected).status_code in {200, 201}
    assert certificate(bench, cleared)["status"] == "revoked"


def test_both_parts_of_a_split_lot_get_a_certificate_of_their_own(
    bench: Bench, database: Database, cleared: str
) -> None:
    former = certificate(bench, cleared)
    part = bench.api.grower.made(f"/lots/{cleared}/splits", {"quantity": 6})["id"]
    parts = [certificate(bench, cleared), certificate(bench, part)]
    assert [(c["status"], c["quantity"]) for c in parts] == [("valid", 14), ("valid", 6)]
    assert {c["expires_at"] for c in parts} == {former["expires_at"]}
    assert [bench.see(id_)["certificate_serial"] for id_ in (cleared, part)] == [c["serial"] for c in parts]
    assert bench.api.auditor.seen(f"/certificates/{former['serial']}")["status"] == "superseded"
    with database.reading() as session:
        assert certificates_differ(session) == []


def test_a_lot_split_off_whole_leaves_no_certificate_behind(bench: Bench, cleared: str) -> None:
    part = bench.api.grower.made(f"/lots/{cleared}/splits", {"quantity": 20})["id"]
    assert bench.see(cleared)["state"] == "closed"
    assert certificate(bench, cleared)["status"] == "superseded"
    assert (certificate(bench, part)["status"], certificate(bench, part)["quantity"]) == ("valid", 20)


@pytest.mark.promise(r=6)
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


def test_a_lot_whose_certificate_is_taken_back_may_soon_be_decided_again(
    bench: Bench, database: Database, cleared: str
) -> None:
    work_done(database)
    serial = bench.see(cleared)["certificate_serial"]
    bench.api.manager.made(f"/certificates/{serial}/revocation", {"reason": "typed the wrong plant"})
    work_done(database)
    assert "decide" in {work["kind"] for work in bench.api.manager.seen("/due-work")["items"]}
