"""The ledger: counts, disposals, reversals; balances that are always the sum of their lines."""

from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.core.db import Database
from service.core.errors import Refused
from service.core.ids import new_id
from service.stores.expiry import check_expiry
from service.stores.ledger import wrong_balances
from tests.api import Api
from tests.make_stores import batch_of, copper
from tests.stores.ledger import ago, balance, day, drawn, lines
from tests.unchanged import unchanged


@pytest.mark.parametrize(
    ("counted", "booked"), [(900, [("count", "-100 mL")]), (1100, [("count", "100 mL")]), (1000, [])]
)
def test_a_count_books_the_difference_as_its_own_line(
    api: Api, counted: int, booked: list[tuple[str, str]]
) -> None:
    batch = copper(api)
    body = {"batch_id": batch["id"], "counted": {"value": counted, "unit": "mL"}, "note": "stocktaking"}
    made = api.grower.made("/stock-counts", body)
    assert lines(api, f"batch={batch['id']}")[1:] == booked
    assert (made["entry_id"] is None) == (booked == [])
    assert balance(api, batch) == (f"{counted} mL" if counted < 1000 else f"{counted / 1000:g} L")


def test_a_count_in_the_past_is_held_against_the_lines_up_to_then(api: Api, database: Database) -> None:
    batch = copper(api, 1, **ago(5))
    with database.writing() as session:
        drawn(session, "copper-stock", 300_000)
    body = {"batch_id": batch["id"], "counted": {"value": 950, "unit": "mL"}}
    made = api.grower.made("/stock-counts", {**body, **ago(2)})
    assert made["expected"] == {"value": "1", "unit": "L"}
    assert made["difference"] == {"value": "-50", "unit": "mL"}
    assert balance(api, batch) == "650 mL"


@pytest.mark.parametrize(("way", "reason"), [("spilled", "spill"), ("sewer", "disposal")])
def test_a_disposal_says_how_it_left(api: Api, way: str, reason: str) -> None:
    batch = copper(api, expires_on=day(-1))
    body = {"batch_id": batch["id"], "quantity": {"value": 1, "unit": "L"}, "way": way, "reason": "old"}
    made = api.grower.made("/stock-disposals", body)
    assert (made["reason"], made["way"], made["note"]) == (reason, way, "old")
    assert balance(api, batch) == "0 mL"


@pytest.mark.parametrize(
    ("quantity", "status"),
    [
        ({"value": 2, "unit": "L"}, 409),
        ({"value": 0, "unit": "L"}, 422),
        ({"value": 2, "unit": "g"}, 422),
        ({"value": 2, "unit": "parsec"}, 422),
    ],
)
def test_more_than_is_there_or_no_quantity_is_not_disposed_of(
    api: Api, database: Database, quantity: dict[str, Any], status: int
) -> None:
    body = {"batch_id": copper(api)["id"], "quantity": quantity, "way": "sewer", "reason": "old"}
    with unchanged(database):
        assert api.grower.post("/stock-disposals", body).status_code == status


@pytest.mark.parametrize("path", ["/stock-counts", "/stock-disposals"])
def test_a_batch_is_not_counted_or_disposed_of_before_it_came(
    api: Api, database: Database, path: str
) -> None:
    amount = {"value": 1, "unit": "mL"}
    more = {"counted": amount} if "counts" in path else {"quantity": amount, "way": "sewer", "reason": "x"}
    body = {"batch_id": copper(api)["id"], **more, **ago(2)}
    with unchanged(database):
        assert api.grower.post(path, body).get_json()["type"] == "/problems/before-its-cause"
        assert api.grower.post(path, {**body, "batch_id": new_id()}).status_code == 422


def test_a_line_is_reversed_once_by_a_second_line(api: Api, database: Database) -> None:
    batch = copper(api)
    body = {"batch_id": batch["id"], "quantity": {"value": 1, "unit": "mL"}, "way": "spilled", "reason": "x"}
    spilled = api.grower.made("/stock-disposals", body)
    undone = api.grower.made(f"/stock-entries/{spilled['id']}/reversal", {"reason": "it was water"})
    assert (undone["reason"], undone["reverses_id"]) == ("reversal", spilled["id"])
    assert balance(api, batch) == "1 L"
    with unchanged(database):
        again = api.grower.post(f"/stock-entries/{spilled['id']}/reversal", {"reason": "again"})
        back = api.manager.post(f"/stock-entries/{undone['id']}/reversal", {"reason": "no"})
    assert [again.status_code, back.status_code] == [409, 409]
    assert again.get_json()["reasons"][0]["code"] == "already-reversed"


def test_what_a_treatment_drew_is_reversed_by_a_manager_only(api: Api, database: Database) -> None:
    batch = copper(api)
    with database.writing() as session:
        drawn(session, "copper-stock", 1000)
    entry = api.grower.seen(f"/stock-entries?batch={batch['id']}")["items"][-1]["id"]
    path = f"/stock-entries/{entry}/reversal"
    with unchanged(database):
        assert api.grower.post(path, {"reason": "wrong tub"}).status_code == 403
    assert api.manager.made(path, {"reason": "wrong tub"})["amount"] == {"value": "1", "unit": "mL"}


def test_a_receipt_that_was_used_from_is_not_reversed(api: Api, database: Database) -> None:
    batch = copper(api)
    receipt = api.grower.seen(f"/stock-entries?batch={batch['id']}")["items"][0]["id"]
    with database.writing() as session:
        drawn(session, "copper-stock", 1000)
    with unchanged(database):
        response = api.manager.post(f"/stock-entries/{receipt}/reversal", {"reason": "never came"})
    assert response.get_json()["type"] == "/problems/insufficient-stock"


def test_an_unknown_line_is_not_found(api: Api) -> None:
    assert api.manager.post(f"/stock-entries/{new_id()}/reversal", {"reason": "x"}).status_code == 404


def test_lines_are_found_by_local_day(api: Api) -> None:
    copper(api, **ago(3))
    assert len(lines(api, f"from={day(-4)}&to={day(-2)}")) == 1
    assert lines(api, f"from={day(-1)}") == []
    assert lines(api, f"to={day(-5)}") == []


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.integers(1, 700_000), max_size=6))
def test_a_balance_is_always_the_sum_of_its_lines(api: Api, database: Database, amounts: list[int]) -> None:
    copper(api, 0.5)
    for amount in amounts:
        with database.writer() as session:
            try:
                drawn(session, "copper-stock", amount)
                session.commit()
            except Refused:
                session.rollback()
    with database.reading() as session:
        assert wrong_balances(session) == []


def test_the_journal_takes_note_of_an_expired_batch_once(api: Api, database: Database) -> None:
    expired = copper(api, expires_on=day(-1))
    batch_of(api, "potassium-alum", 1, "kg")
    for _ in range(2):
        with database.writing() as session:
            check_expiry(session, {}, datetime.now(UTC))
    trail = api.owner.seen(f"/audit?subject=stock_batch/{expired['id']}")["items"]
    assert [item["kind"] for item in trail] == ["stock.batch_received", "stock.expired"]
    everything = [item["kind"] for item in api.owner.seen("/audit?limit=200")["items"]]
    assert everything.count("stock.expired") == 1
