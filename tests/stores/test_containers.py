"""Containers of a batch: what one holds is told, how many there are follows from it."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.db import Database
from service.stores.rules_receipts import containers
from tests.api import Api
from tests.make_stores import batch_of, copper, material_named
from tests.stores.ledger import drawn
from tests.unchanged import unchanged


def patched(api: Api, batch: dict[str, Any], body: dict[str, Any]) -> Any:
    path = f"/stock-batches/{batch['id']}"
    tag = api.grower.get(path).headers["ETag"]
    return api.grower.send("PATCH", path, body, headers={"If-Match": tag})


def test_how_many_containers_came_and_are_left_follows_from_their_size(api: Api, database: Database) -> None:
    made = copper(api, 5, container_size={"value": 500, "unit": "mL"})
    size = {"value": "500", "unit": "mL"}
    assert made["containers"] == {"size": size, "received": 10, "left": 10}
    with database.writing() as session:
        drawn(session, "copper-stock", 1_000_001)
    shown = api.grower.seen(f"/stock-batches/{made['id']}")["containers"]
    assert shown == {"size": size, "received": 10, "left": 8}  # seven full ones and one begun


def test_a_batch_without_a_container_size_counts_none(api: Api) -> None:
    assert copper(api)["containers"] is None


def test_a_container_size_is_told_later_and_taken_back(api: Api) -> None:
    batch = batch_of(api, "potassium-alum", 2, "kg")
    told = patched(api, batch, {"container_size": {"value": 500, "unit": "g"}}).get_json()
    assert (told["containers"]["received"], told["containers"]["left"]) == (4, 4)
    assert patched(api, batch, {"container_size": None}).get_json()["containers"] is None


@pytest.mark.parametrize(
    ("size", "pointer"),
    [
        ({"value": 0, "unit": "mL"}, "#/container_size/value"),
        ({"value": 500, "unit": "g"}, "#/container_size/unit"),
        ({"value": 1, "unit": "bucket"}, "#/container_size/unit"),
        ({"value": "0.0000001", "unit": "L"}, "#/container_size/value"),
    ],
)
def test_a_container_that_cannot_be_is_refused(
    api: Api, database: Database, size: dict[str, Any], pointer: str
) -> None:
    batch = copper(api)
    body = {"batch_number": "1", "quantity": {"value": 1, "unit": "L"}, "container_size": size}
    with unchanged(database):
        path = f"/materials/{material_named(api, 'copper-stock')['id']}/batches"
        answers = [api.grower.post(path, body), patched(api, batch, {"container_size": size})]
    for answer in answers:
        assert answer.status_code == 422
        assert [error["pointer"] for error in answer.get_json()["errors"]] == [pointer]


@given(st.integers(0, 10**12), st.integers(1, 10**9))
def test_containers_hold_the_amount_and_not_one_is_empty(amount: int, size: int) -> None:
    many = containers(amount, size)
    assert many * size >= amount > (many - 1) * size
