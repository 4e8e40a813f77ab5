"""Consumption by supplier of the plants: lot -> shipment -> supplier, equal in sum to the report by lot."""

from collections import Counter
from decimal import Decimal
from typing import Any

import pytest

from service.core.db import Database
from tests.api import Api
from tests.make_lots import line, supplier, tub
from tests.make_treatments import SHELF_DAYS, carried_out, course, day, shelf

OTHER = "Birchmere Nursery"


def lots_of(api: Api, name: str, count: int) -> list[str]:
    """The ids of the lots of one shipment of this supplier, received on day 0."""
    body = {
        "supplier_id": supplier(api, name),
        "received_at": day(0).isoformat(),
        "late_reason": "entered from the notebook",
        "lines": [line(api)] * count,
    }
    return [lot["id"] for lot in api.grower.made("/shipments", body)["lots"]]


def report(api: Api, by: str) -> list[dict[str, Any]]:
    query = f"from={day(0).date()}&to={day(SHELF_DAYS).date()}&by={by}"
    found: list[dict[str, Any]] = api.grower.seen(f"/reports/consumption?{query}")["rows"]
    return found


def used(rows: list[dict[str, Any]], name: str) -> Counter[tuple[Any, str]]:
    """What was used, by the member `name` of the key and the material."""
    found: Counter[tuple[Any, str]] = Counter()
    for row in rows:
        found[row["key"][name], row["material"]] += Decimal(row["used"]["value"])  # type: ignore[assignment]
    return found


@pytest.fixture
def treated(api: Api, database: Database) -> dict[str, list[str]]:
    """A copper course on two lots of one supplier and one of another, a bleach dip on the other's second."""
    shelf(api)
    first, second = lots_of(api, "Fenmarsh Growers", 2), lots_of(api, OTHER, 2)
    course(api, tub(database, "T1"), [*first, second[0]])
    carried_out(api, "bleach-dip", tub(database, "T2"), [second[1]])
    return {"Fenmarsh Growers": first, OTHER: second}


def test_a_supplier_has_the_sum_of_what_was_used_on_its_lots(api: Api, treated: dict[str, list[str]]) -> None:
    by_lot, by_supplier = used(report(api, "lot"), "lot_id"), used(report(api, "supplier"), "name")
    owner = {lot: name for name, lots in treated.items() for lot in lots}
    expected: Counter[tuple[Any, str]] = Counter()
    for (lot, material), amount in by_lot.items():
        expected[owner[lot], material] += amount
    assert by_supplier == expected
    # Two of the three lots of the course came from the first supplier, and only the other's was bleached.
    # The course draws 16 mL (0.4 mg/L in 40 L of 1 g/L): 10.668 and 5.332 mL, a lot gets the odd microlitre.
    copper = {name: by_supplier[name, "copper-stock"] for name in treated}
    assert sum(copper.values()) == 16
    assert abs(copper["Fenmarsh Growers"] - 2 * copper[OTHER]) <= Decimal("0.002")
    assert ("Fenmarsh Growers", "bleach") not in by_supplier


def test_the_key_names_the_supplier(api: Api, treated: dict[str, list[str]]) -> None:
    keys = {(row["key"]["supplier_id"], row["key"]["name"]) for row in report(api, "supplier")}
    assert keys == {(supplier(api, name), name) for name in treated}


def test_what_no_treatment_used_belongs_to_no_supplier(api: Api) -> None:
    batch = shelf(api)["copper-stock"]
    body = {"batch_id": batch["id"], "quantity": {"value": 1, "unit": "mL"}, "reason": "x", "way": "sewer"}
    api.grower.made("/stock-disposals", body)
    (found,) = report(api, "supplier")
    assert found["key"] == {"supplier_id": None, "name": None}
