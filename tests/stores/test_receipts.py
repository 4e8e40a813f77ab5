"""Deliveries: a number that came before is asked for, and what cannot be is refused."""

import threading
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.csv_tables import Row
from service.core.db import Database
from service.core.errors import Refused
from service.stores.batches import receive_batch
from service.stores.queries import material_by_code
from service.stores.receipts import judge, take_in
from service.stores.rules_receipts import duplicate_number
from tests.api import Api
from tests.make_stores import batch_of, copper, material_named
from tests.stores.acting import delivery
from tests.stores.ledger import act, lines
from tests.unchanged import unchanged


def receive(api: Api, number: str, **changes: Any) -> Any:
    path = f"/materials/{material_named(api, 'copper-stock')['id']}/batches"
    return api.grower.post(path, {"batch_number": number, "quantity": {"value": 1, "unit": "L"}, **changes})


def test_a_number_that_came_before_is_asked_to_be_confirmed(api: Api, database: Database) -> None:
    copper(api, batch_number="LOT 12a")
    with unchanged(database):
        refused = receive(api, " lot  12A")
    problem = refused.get_json()
    assert (refused.status_code, problem["type"]) == (409, "/problems/duplicate-batch-number")
    assert [reason["pointer"] for reason in problem["reasons"]] == ["#/batch_number"]
    assert problem["allowed"] == ["confirm_duplicate"]
    assert "send confirm_duplicate: true; otherwise correct batch_number" in problem["detail"]


def test_a_confirmed_number_is_one_more_batch(api: Api) -> None:
    first = copper(api, batch_number="12")
    second = receive(api, "12", confirm_duplicate=True)
    assert second.status_code == 201
    assert second.get_json()["id"] != first["id"]
    assert lines(api, "material=copper-stock") == [("receipt", "1 L"), ("receipt", "1 L")]


def test_another_material_may_have_the_same_number(api: Api) -> None:
    copper(api, batch_number="12")
    assert batch_of(api, "potassium-alum", 1, "kg", batch_number="12")["batch_number"] == "12"


def test_a_confirmation_is_a_plain_yes_or_no(api: Api, database: Database) -> None:
    with unchanged(database):
        refused = receive(api, "12", confirm_duplicate="yes")
    assert refused.status_code == 422
    assert [error["pointer"] for error in refused.get_json()["errors"]] == ["#/confirm_duplicate"]


def test_of_two_receipts_of_one_number_at_once_one_is_asked(database: Database) -> None:
    outcomes: list[str] = []
    start = threading.Barrier(2)

    def receiving() -> None:
        start.wait()
        try:
            with database.writing() as session:
                material = material_by_code(session, "copper-stock")
                receive_batch(session, act(), material, delivery(batch_number="12"))
            outcomes.append("received")
        except Refused as refusal:
            outcomes.append(refusal.code)

    at_once(receiving)
    assert sorted(outcomes) == ["duplicate-batch-number", "received"]


def test_of_two_files_of_one_delivery_at_once_one_is_received_whole(database: Database) -> None:
    rows = [Row(n, {"material": "copper-stock", "batch_number": str(n)}) for n in (2, 3)]
    outcomes: list[str] = []
    start = threading.Barrier(2)

    def receiving() -> None:
        start.wait()
        try:
            with database.writing() as session:
                judged = judge(session, rows, lambda body: (act(), delivery(**body)), lock=True)
                outcomes.append(f"received {len(take_in(session, judged))}")
        except Refused as refusal:
            outcomes.append(refusal.code)

    at_once(receiving)
    assert sorted(outcomes) == ["duplicate-batch-number", "received 2"]


def at_once(work: Callable[[], None]) -> None:
    threads = [threading.Thread(target=work) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


@given(st.text(st.characters(categories=["L", "Nd"], max_codepoint=0x24F), min_size=1), st.text(min_size=1))
def test_a_number_is_the_same_whatever_its_spaces(number: str, other: str) -> None:
    day = date(2026, 3, 2)
    assert duplicate_number(f" {number}\t", [(other, day), (number, day)])
    assert duplicate_number(number, []) == []


def test_the_last_delivery_of_a_number_is_named() -> None:
    [reason] = duplicate_number(
        "7", [("7", date(2026, 1, 5)), ("8", date(2026, 2, 1)), ("7", date(2026, 3, 2))]
    )
    assert "2026-03-02" in reason.detail
    assert (reason.needed, reason.have) == ("confirm_duplicate", "7")


@pytest.mark.parametrize(
    ("counted", "pointer"),
    [
        ({"value": -1, "unit": "mL"}, "#/counted/value"),
        ({"value": 1, "unit": "furlong"}, "#/counted/unit"),
        ({"value": 1, "unit": "g"}, "#/counted/unit"),
        ({"value": 1, "unit": "Cel"}, "#/counted/unit"),
        ({"value": "0.0000001", "unit": "L"}, "#/counted/value"),
    ],
)
def test_a_count_that_cannot_be_is_refused(
    api: Api, database: Database, counted: dict[str, Any], pointer: str
) -> None:
    body = {"batch_id": copper(api)["id"], "counted": counted}
    with unchanged(database):
        refused = api.grower.post("/stock-counts", body)
    assert refused.status_code == 422
    assert [error["pointer"] for error in refused.get_json()["errors"]] == [pointer]


@pytest.mark.parametrize("path", ["/stock-counts", "/stock-disposals"])
def test_what_lies_in_the_future_is_refused(api: Api, database: Database, path: str) -> None:
    amount = {"value": 1, "unit": "mL"}
    more = {"counted": amount} if "counts" in path else {"quantity": amount, "way": "sewer", "reason": "x"}
    body = {"batch_id": copper(api)["id"], "at": "2090-01-01T00:00:00Z", **more}
    with unchanged(database):
        refused = api.grower.post(path, body)
    assert refused.status_code == 422
    assert [error["pointer"] for error in refused.get_json()["errors"]] == ["#/at"]
