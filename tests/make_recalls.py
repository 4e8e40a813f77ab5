"""Recalls and sales for tests, over HTTP."""

from typing import Any

from tests.api import Api
from tests.journeys.bench import Bench

WHY = "snails seen at a customer's"


def recall(api: Api, role: str = "manager", **body: Any) -> Any:
    """A recall that must succeed; `body` names what is recalled."""
    return getattr(api, role).made("/recalls", {"reason": WHY, **body})


def sell(bench: Bench, lot: str, quantity: int, customer: str) -> str:
    """The id of a dispatch to a customer."""
    lines = [{"lot_id": lot, "quantity": quantity}]
    body = {"order_ref": "W-1", "customer_ref": customer, "lines": lines}
    return str(bench.api.shop.made("/dispatches", body)["id"])
