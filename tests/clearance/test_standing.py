"""Cleared stock that waits is looked at again every two weeks; what misses it is not sold."""

from typing import Any

import pytest
from werkzeug.test import TestResponse

from service.clearance.standing import standing_differs
from service.core.clock import utc_now
from service.core.db import Database
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_clearance import decide, ready

CLEARED, MISSED = 50, 63  # the last look was on day 49


@pytest.fixture
def bench(api: Api) -> Bench:
    tag = api.owner.get("/settings").headers["ETag"]
    told = api.owner.send("PATCH", "/settings", {"late_entry_limit_days": 90}, headers={"If-Match": tag})
    assert told.status_code == 200
    return Bench(api, age=70)


@pytest.fixture
def waiting(bench: Bench) -> str:
    """A lot cleared on day 50 that nobody has looked at since."""
    tub = bench.tub("Q1")
    bench.logger(tub, 0, bench.age, 24)
    lot = ready(bench, tub)
    assert decide(bench, lot, bench.when(CLEARED)).status_code == 201
    return lot


def sell(bench: Bench, lot: str, quantity: int = 1) -> TestResponse:
    lines = [{"lot_id": lot, "quantity": quantity}]
    answer: TestResponse = bench.api.shop.post("/dispatches", {"order_ref": "W-1", "lines": lines})
    return answer


def work(bench: Bench, kind: str) -> list[Any]:
    return list(bench.api.grower.seen(f"/due-work?kind={kind}")["items"])


def status(bench: Bench, lot: str) -> str:
    serial = bench.see(lot)["certificate_serial"]
    page = bench.api.nobody.get(f"/c/{serial}", Accept="application/json").get_json()
    shown = bench.api.auditor.seen(f"/certificates/{serial}")
    assert page["status"] == shown["status"]
    return str(shown["status"])


def test_two_weeks_without_a_look_stop_the_sale_until_it_is_made(bench: Bench, waiting: str) -> None:
    assert bench.see(waiting)["good_until"] == bench.when(MISSED)["at"]
    assert status(bench, waiting) == "expired"
    assert bench.api.shop.seen("/inventory")["rows"] == []
    assert bench.api.seller.seen("/lots?ready=true")["items"] == []
    assert [item["id"] for item in bench.api.seller.seen("/lots?ready=false")["items"]] == [waiting]
    refused = sell(bench, waiting)
    assert refused.status_code == 409
    [reason] = refused.get_json()["reasons"]
    assert reason["code"] == "look-overdue"
    assert "a clean look" in reason["detail"]

    bench.look(bench.age, lot_id=waiting, sample_size=20)
    assert bench.see(waiting)["good_until"] == bench.when(CLEARED + 30)["at"]  # the certificate's last day
    assert status(bench, waiting) == "valid"
    assert bench.api.shop.seen("/inventory")["rows"][0]["available"] == 20
    assert [item["id"] for item in bench.api.seller.seen("/lots?ready=true")["items"]] == [waiting]
    assert sell(bench, waiting).status_code == 201


def test_the_look_is_due_work_by_the_day_on_which_the_lot_is_good_no_longer(
    bench: Bench, waiting: str
) -> None:
    [item] = work(bench, "inspect")
    assert (item["due_at"], item["overdue"]) == (bench.when(MISSED)["at"], True)
    assert [lot["id"] for lot in item["lots"]] == [waiting]
    bench.look(60, lot_id=waiting, sample_size=20)
    [later] = work(bench, "inspect")
    assert (later["due_at"], later["overdue"]) == (bench.when(74)["at"], False)


def test_a_look_at_too_few_or_one_that_was_voided_does_not_help(bench: Bench, waiting: str) -> None:
    bench.look(60, lot_id=waiting, sample_size=19)
    assert status(bench, waiting) == "expired"
    look = bench.look(60, lot_id=waiting, sample_size=20)
    assert status(bench, waiting) == "valid"
    bench.api.manager.made(f"/inspections/{look['id']}/void", {"reason": "another tub was meant"})
    assert bench.see(waiting)["good_until"] == bench.when(MISSED)["at"]


def test_a_certificate_that_ran_out_asks_for_a_new_decision(bench: Bench) -> None:
    tub = bench.tub("Q1")
    bench.logger(tub, 0, bench.age, 24)
    lot = ready(bench, tub)
    policy = bench.api.owner.seen("/policies/standard/versions/3")
    left_out = {"id", "version", "reference_version", "created_at"}
    own = {name: value for name, value in policy.items() if name not in left_out}
    own |= {"code": "own", "statement": {**policy["statement"], "valid_days": 5}}
    bench.api.owner.made("/policies", own)
    assert decide(bench, lot, {**bench.when(CLEARED), "policy": "own"}).status_code == 201
    bench.look(bench.age, lot_id=lot, sample_size=20)
    assert bench.see(lot)["good_until"] == bench.when(CLEARED + 5)["at"]
    [reason] = sell(bench, lot).get_json()["reasons"]
    assert reason["code"] == "certificate-not-valid"
    assert "decide anew" in reason["detail"]
    assert work(bench, "inspect") == []
    [item] = work(bench, "decide")
    assert item["due_at"] == bench.when(CLEARED + 5)["at"]
    bench.api.grower.made(f"/lots/{lot}/moves", {"to": "in_quarantine", "reason": "its certificate ran out"})
    assert decide(bench, lot).status_code == 201
    assert sell(bench, lot).status_code == 201


def test_the_rhythm_is_a_figure_of_the_policy_that_cleared_the_lot(bench: Bench) -> None:
    tub = bench.tub("Q1")
    bench.logger(tub, 0, bench.age, 24)
    lot = ready(bench, tub)
    policy = bench.api.owner.seen("/policies/standard/versions/3")
    left_out = {"id", "version", "reference_version", "created_at"}
    own = {name: value for name, value in policy.items() if name not in left_out}
    own |= {"code": "own", "looks": {**policy["looks"], "again_after_days": 7}}
    bench.api.owner.made("/policies", own)
    assert decide(bench, lot, {**bench.when(CLEARED), "policy": "own"}).status_code == 201
    assert bench.see(lot)["good_until"] == bench.when(56)["at"]
    bench.look(60, lot_id=lot, sample_size=20)
    assert bench.see(lot)["good_until"] == bench.when(67)["at"]


def test_a_lot_that_nobody_decided_on_for_two_weeks_owes_a_look_first(bench: Bench) -> None:
    tub = bench.tub("Q1")
    bench.logger(tub, 0, bench.age, 24)
    lot = ready(bench, tub)
    assert decide(bench, lot, bench.when(62.9)).status_code == 201
    other = bench.tub("Q2")
    bench.logger(other, 0, bench.age, 24)
    late = ready(bench, other)
    refused = decide(bench, late, bench.when(MISSED))
    assert [reason["code"] for reason in refused.get_json()["reasons"]] == ["clean_inspections"]
    bench.look(MISSED, lot_id=late, sample_size=20)
    assert decide(bench, late, bench.when(MISSED)).status_code == 201


def test_a_part_split_off_keeps_its_last_look_and_goes_its_own_way_since(
    bench: Bench, waiting: str, database: Database
) -> None:
    bench.look(60, lot_id=waiting, sample_size=20)
    body = {"quantity": 5, "tub_id": bench.tub("Q2"), **bench.when(61)}
    part = bench.api.grower.made(f"/lots/{waiting}/splits", body)["id"]
    assert [bench.see(lot)["good_until"] for lot in (waiting, part)] == [bench.when(74)["at"]] * 2
    bench.look(65, lot_id=part, sample_size=5)
    goods = [bench.see(lot)["good_until"] for lot in (waiting, part)]
    assert goods == [bench.when(74)["at"], bench.when(79)["at"]]
    with database.reading() as session:
        assert standing_differs(session, utc_now()) == []


def test_what_was_sold_out_in_time_keeps_its_certificate(bench: Bench, waiting: str) -> None:
    serial = bench.see(waiting)["certificate_serial"]
    line = {"lot_id": waiting, "quantity": 20}
    bench.api.shop.made("/dispatches", {"order_ref": "W-1", "lines": [line], **bench.when(55)})
    assert bench.see(waiting)["good_until"] is None
    assert bench.api.auditor.seen(f"/certificates/{serial}")["status"] == "valid"
    assert work(bench, "inspect") == []
