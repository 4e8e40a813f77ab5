"""Stock that tests use: drawn like any other, told in the reports."""

from datetime import UTC, datetime
from typing import Any

import pytest

from service.core.db import Database
from tests.api import Api
from tests.make_stores import copper
from tests.unchanged import unchanged

USE: dict[str, Any] = {
    "material": "copper-stock",
    "quantity": {"value": 5, "unit": "mL"},
    "note": "read with the kit",
}


def test_a_test_draws_first_expired_first_out(api: Api) -> None:
    later = copper(api, 1, batch_number="later", expires_on="2031-01-01")
    sooner = copper(api, 1, batch_number="sooner", expires_on="2030-01-01")
    made = api.grower.made("/stock-uses", USE)
    assert made["drawn"] == [{"batch_id": sooner["id"], "amount": {"value": "5", "unit": "mL"}}]
    named = api.grower.made("/stock-uses", {**USE, "batch_id": later["id"]})
    assert named["drawn"][0]["batch_id"] == later["id"]
    lines = api.grower.seen(f"/stock-entries?batch={sooner['id']}")["items"]
    [line] = [line for line in lines if line["reason"] == "test"]
    assert (line["reason"], line["note"], line["amount"]) == (
        "test",
        USE["note"],
        {"value": "-5", "unit": "mL"},
    )


def test_it_counts_as_used(api: Api) -> None:
    copper(api, 1)
    api.grower.made("/stock-uses", USE)
    today = datetime.now(UTC).date().isoformat()
    [row] = api.grower.seen(f"/reports/consumption?from={today}&to={today}")["rows"]
    assert row["used"] == {"value": "5", "unit": "mL"}


@pytest.mark.parametrize(
    ("changes", "status", "pointer"),
    [
        ({"material": "unheard-of"}, 422, "#/material"),
        ({"quantity": {"value": 5, "unit": "g"}}, 422, "#/quantity/unit"),
        ({"quantity": {"value": -5, "unit": "mL"}}, 422, "#/quantity/value"),
        ({"quantity": {"value": 2, "unit": "L"}}, 409, None),
        ({"note": ""}, 422, "#/note"),
    ],
)
def test_what_cannot_be_used_is_refused(
    api: Api, database: Database, changes: dict[str, Any], status: int, pointer: str | None
) -> None:
    copper(api, 1)
    with unchanged(database):
        response = api.grower.post("/stock-uses", {**USE, **changes})
    assert response.status_code == status
    assert pointer is None or [error["pointer"] for error in response.get_json()["errors"]] == [pointer]
