"""Voiding a clean look that a clearance rests on: it is judged again as of its day, and does not stand."""

from typing import Any

import pytest

from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_clearance import decide
from tests.make_quarantine import quarantined

OVERRIDE = {"overrides": [{"gate": "clean_inspections", "reason": "looked at by a colleague from next door"}]}


@pytest.fixture
def bench(api: Api) -> Bench:
    return Bench(api, age=52)


@pytest.fixture
def waited(bench: Bench) -> str:
    """A lot with all of its looks but the last one, which is owed on day 49."""
    tub = bench.tub("Q1")
    bench.logger(tub, 0, bench.age, 24)
    lot = quarantined(bench, tub)
    bench.strain(tub, 3, 44)
    bench.look(7, tub_id=tub, method="bait")
    bench.look(45, lot_id=lot, sample_size=20)
    return lot


def void(bench: Bench, look: Any) -> None:
    bench.api.manager.made(f"/inspections/{look['id']}/void", {"reason": "another tub was meant"})


def certificate(bench: Bench, serial: str) -> Any:
    return bench.api.auditor.seen(f"/certificates/{serial}")


def cleared(bench: Bench, lot: str) -> str:
    """The serial of the certificate that a decision on day 50 issues."""
    assert decide(bench, lot, bench.when(50)).status_code == 201
    return str(bench.see(lot)["certificate_serial"])


def last_look(bench: Bench, lot: str, day: float = 49) -> Any:
    return bench.look(day, lot_id=lot, sample_size=20)


def test_a_clearance_that_the_look_carried_is_taken_back_and_a_look_is_owed(
    bench: Bench, waited: str
) -> None:
    look = last_look(bench, waited)
    serial = cleared(bench, waited)
    void(bench, look)
    ended = certificate(bench, serial)
    assert ended["status"] == "revoked"
    assert ended["end_reason"].startswith("A look that its clearance rested on was voided. A clean look")
    assert bench.see(waited)["state"] == "in_quarantine"
    assert not bench.gates(waited)["clean_inspections"]["ok"]
    last_look(bench, waited, 51)
    assert certificate(bench, serial)["status"] == "revoked"
    assert decide(bench, waited).status_code == 201


def test_who_enters_the_right_look_first_keeps_the_clearance(bench: Bench, waited: str) -> None:
    wrong = last_look(bench, waited)
    serial = cleared(bench, waited)
    last_look(bench, waited, 49.5)
    void(bench, wrong)
    assert certificate(bench, serial)["status"] == "valid"
    assert bench.see(waited)["state"] == "cleared"


def test_a_look_made_after_the_decision_carries_nothing(bench: Bench, waited: str) -> None:
    last_look(bench, waited)
    serial = cleared(bench, waited)
    void(bench, last_look(bench, waited, 51))
    assert certificate(bench, serial)["status"] == "valid"


def test_what_is_sold_out_loses_its_statement_too(bench: Bench, waited: str) -> None:
    look = last_look(bench, waited)
    serial = cleared(bench, waited)
    line = {"lot_id": waited, "quantity": 20}
    bench.api.shop.made("/dispatches", {"order_ref": "W-1", "lines": [line], **bench.when(51)})
    void(bench, look)
    assert certificate(bench, serial)["status"] == "revoked"
    assert bench.see(waited)["state"] == "closed"


def test_a_part_split_off_is_judged_by_the_looks_it_took_along(bench: Bench, waited: str) -> None:
    look = last_look(bench, waited)
    assert decide(bench, waited, bench.when(50)).status_code == 201
    split = {"quantity": 5, "tub_id": bench.tub("Q2"), **bench.when(51)}
    part = bench.api.grower.made(f"/lots/{waited}/splits", split)["id"]
    void(bench, look)
    assert [bench.see(lot)["state"] for lot in (waited, part)] == ["in_quarantine"] * 2


def test_what_an_owner_had_overridden_is_not_judged_again(bench: Bench, waited: str) -> None:
    look = bench.look(49, lot_id=waited, sample_size=3)
    assert decide(bench, waited, {**bench.when(50), **OVERRIDE}, role="owner").status_code == 201
    void(bench, look)
    assert bench.see(waited)["state"] == "cleared"
