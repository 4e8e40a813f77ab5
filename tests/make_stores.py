"""Builders for tests that need dip materials on the shelf."""

from itertools import count
from typing import Any

from tests.api import Api

RECEIPTS = count(1)


def material_named(api: Api, code: str) -> dict[str, Any]:
    """A material of the reference data by its code."""
    items = api.owner.seen("/materials?limit=200")["items"]
    found: dict[str, Any] = next(item for item in items if item["code"] == code)
    return found


def batch_of(api: Api, code: str, value: float, unit: str, **changes: Any) -> dict[str, Any]:
    """A batch received now; `changes` are further members of the body."""
    body = {"batch_number": f"{code}-{next(RECEIPTS)}", "quantity": {"value": value, "unit": unit}, **changes}
    made: dict[str, Any] = api.grower.made(f"/materials/{material_named(api, code)['id']}/batches", body)
    return made


def bleach(api: Api, litres: float = 5, **changes: Any) -> dict[str, Any]:
    """A can of bleach whose label says 8.25 % NaOCl by mass, made today unless said otherwise."""
    strength = {"value": 8.25, "basis": "naocl_ww"}
    return batch_of(api, "bleach", litres, "L", **{"strength": strength, **changes})


def copper(api: Api, litres: float = 1, **changes: Any) -> dict[str, Any]:
    """A bottle of copper stock of 1 g/L."""
    return batch_of(api, "copper-stock", litres, "L", **changes)
