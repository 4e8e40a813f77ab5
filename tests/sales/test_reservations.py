"""Reservations: promised once, to one order, and never what may not be sold."""

import threading
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import func, select, update
from werkzeug.test import TestResponse

from service.core.clock import utc_now
from service.core.db import Database
from service.core.jobs import OwedJob
from service.lots.models import Lot
from service.sales.models import Reservation, ReservationLine
from tests.journeys.bench import Bench
from tests.make_quarantine import work_done
from tests.make_sales import of_plant, order, promised, reserved, seen


def all_at_once(jobs: list[Callable[[], TestResponse]]) -> list[TestResponse]:
    answers: list[TestResponse] = []
    start = threading.Barrier(len(jobs))

    def run(job: Callable[[], TestResponse]) -> None:
        start.wait()
        answers.append(job())

    threads = [threading.Thread(target=run, args=(job,)) for job in jobs]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return answers


def test_what_is_reserved_is_no_longer_available_but_still_there(bench: Bench) -> None:
    lot = bench.cleared_lot(20)
    made = reserved(bench, lot, 6)
    assert (made["status"], made["lines"][0]["quantity"]) == ("open", 6)
    [row] = bench.api.shop.seen("/inventory")["rows"]
    assert (row["cleared"], row["reserved"], row["available"]) == (20, 6, 14)


def test_nobody_else_gets_what_is_reserved(bench: Bench, cleared: str) -> None:
    reserved(bench, cleared, 15)
    for path in ("/reservations", "/dispatches"):
        answer = bench.api.shop.post(path, order(cleared, 6, order_ref="W-2"))
        assert answer.status_code == 409
        assert answer.get_json()["reasons"][0] | {"detail": ""} == {
            "code": "not-enough-left",
            "detail": "",
            "needed": 6,
            "have": 5,
        }
    assert promised(bench, cleared) == 15


def test_the_same_order_asking_again_gets_the_same_promise(bench: Bench, cleared: str) -> None:
    first, again = reserved(bench, cleared, 6), reserved(bench, cleared, 6)
    assert first["id"] == again["id"]
    assert promised(bench, cleared) == 6


def test_the_same_order_asking_for_something_else_is_refused(bench: Bench, cleared: str) -> None:
    reserved(bench, cleared, 6)
    answer = bench.api.shop.post("/reservations", order(cleared, 7))
    assert (answer.status_code, answer.get_json()["reasons"][0]["code"]) == (409, "order-reserved")
    assert promised(bench, cleared) == 6


def test_of_a_plant_the_lot_cleared_first_gives_first(bench: Bench) -> None:
    first, second = bench.cleared_lot(20), bench.cleared_lot(20, bench.tub("Q2"))
    made = bench.api.shop.made("/reservations", of_plant(bench, first, 25))
    assert [(line["lot_id"], line["quantity"]) for line in made["lines"]] == [(first, 20), (second, 5)]


def test_a_plant_short_of_what_is_asked_names_the_line(bench: Bench, cleared: str) -> None:
    answer = bench.api.shop.post("/reservations", of_plant(bench, cleared, 21))
    assert answer.status_code == 409
    reason = answer.get_json()["reasons"][0]
    assert (reason["pointer"], reason["needed"], reason["have"]) == ("#/lines/0/quantity", 21, 20)
    assert promised(bench, cleared) == 0


def test_what_a_reservation_holds_runs_out(bench: Bench, database: Database, cleared: str) -> None:
    made = reserved(bench, cleared, 6)
    work_done(database)
    assert promised(bench, cleared) == 6
    with database.writing() as session:  # its time passes
        session.execute(update(Reservation).values(expires_at=utc_now() - timedelta(seconds=1)))
        session.execute(update(OwedJob).where(OwedJob.kind == "expire_reservation").values(due_at=utc_now()))
    work_done(database)
    assert seen(bench, made)["status"] == "expired"
    assert promised(bench, cleared) == 0


def test_a_confirmed_reservation_does_not_run_out(bench: Bench, database: Database, cleared: str) -> None:
    made = reserved(bench, cleared, 6)
    path = f"/reservations/{made['id']}/confirmation"
    confirmed = bench.api.shop.made(path, {})
    assert (confirmed["status"], confirmed["expires_at"]) == ("confirmed", None)
    assert bench.api.shop.made(path, {})["version"] == confirmed["version"]
    with database.writing() as session:
        session.execute(update(OwedJob).where(OwedJob.kind == "expire_reservation").values(due_at=utc_now()))
    work_done(database)
    assert promised(bench, cleared) == 6


def test_a_cancelled_reservation_frees_its_units_once(bench: Bench, cleared: str) -> None:
    made = reserved(bench, cleared, 6)
    path = f"/reservations/{made['id']}"
    assert bench.api.shop.send("DELETE", path, None).status_code == 204
    assert promised(bench, cleared) == 0
    assert bench.api.shop.send("DELETE", path, None).status_code == 409
    assert bench.api.shop.post(f"{path}/confirmation", {}).status_code == 409
    assert seen(bench, made)["status"] == "cancelled"


def test_an_order_cancelled_may_be_reserved_anew(bench: Bench, cleared: str) -> None:
    made = reserved(bench, cleared, 6)
    bench.api.shop.send("DELETE", f"/reservations/{made['id']}", None)
    assert reserved(bench, cleared, 7)["id"] != made["id"]


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"expires_at": "2026-01-01T00:00:00Z"}, "#/expires_at"),
        ({"expires_at": "2099-01-01T00:00:00Z"}, "#/expires_at"),
        ({"lines": []}, "#/lines"),
        ({"lines": [{"quantity": 1}]}, "#/lines/0/lot_id"),
        ({"order_ref": ""}, "#/order_ref"),
    ],
)
def test_what_cannot_be_promised_names_the_field(
    bench: Bench, change: dict[str, Any], pointer: str, cleared: str
) -> None:
    answer = bench.api.shop.post("/reservations", order(cleared, 1) | change)
    assert answer.status_code in {409, 422}
    told = answer.get_json()
    assert pointer in {entry.get("pointer") for entry in told.get("errors", []) + told.get("reasons", [])}
    assert promised(bench, cleared) == 0


@pytest.mark.promise(r=5)
def test_the_last_units_are_promised_once_however_many_ask(
    bench: Bench, database: Database, cleared: str
) -> None:
    plant = of_plant(bench, cleared, 8)

    def ask(n: int) -> Callable[[], TestResponse]:
        path = "/reservations" if n % 2 else "/dispatches"
        return lambda: bench.api.shop.post(path, plant | {"order_ref": f"W-{n}"})

    answers = all_at_once([ask(n) for n in range(4)])
    assert sorted(answer.status_code for answer in answers) == [201, 201, 409, 409]
    quantity = bench.see(cleared)["quantity"]
    assert quantity["reserved"] + quantity["sold"] == 16
    with database.reading() as session:
        owed = session.scalar(select(func.sum(ReservationLine.quantity - ReservationLine.sent)))
        assert (owed or 0) == session.scalar(select(func.sum(Lot.reserved)))


def test_one_order_sent_twice_at_once_is_promised_once(bench: Bench, cleared: str) -> None:
    answers = all_at_once([lambda: bench.api.shop.post("/reservations", order(cleared, 8))] * 2)
    assert {answer.status_code for answer in answers} == {201}
    assert len({answer.get_json()["id"] for answer in answers}) == 1
    assert promised(bench, cleared) == 8


def test_reservations_are_listed_by_order_and_status(bench: Bench, cleared: str) -> None:
    made = [reserved(bench, cleared, 1, order_ref=f"W-{n}") for n in range(3)]
    bench.api.shop.send("DELETE", f"/reservations/{made[0]['id']}", None)
    listed = bench.api.auditor.seen("/reservations?status=open")["items"]
    assert [item["id"] for item in listed] == [made[1]["id"], made[2]["id"]]
    listed = bench.api.auditor.seen("/reservations?order_ref=W-0")["items"]
    assert [item["status"] for item in listed] == ["cancelled"]


def test_the_journal_does_not_name_the_customer(bench: Bench, cleared: str) -> None:
    reserved(bench, cleared, 1, customer_ref="customer 17")
    assert "customer 17" not in str(bench.api.auditor.seen(f"/lots/{cleared}/history?limit=200"))
