"""Builders for tests that need plants promised to orders."""

from typing import Any

from tests.journeys.bench import Bench


def order(lot: str, quantity: int, **more: Any) -> dict[str, Any]:
    """So many of a lot for one order."""
    return {"order_ref": "W-1", "lines": [{"lot_id": lot, "quantity": quantity}], **more}


def of_plant(bench: Bench, lot: str, quantity: int, **more: Any) -> dict[str, Any]:
    """So many of the plant of a lot, whichever lots give them."""
    line = {"plant_id": bench.see(lot)["plant"]["id"], "unit_of_sale": "pot", "quantity": quantity}
    return {"order_ref": "W-1", "lines": [line], **more}


def promised(bench: Bench, lot: str) -> int:
    """How many units of a lot are promised."""
    return int(bench.see(lot)["quantity"]["reserved"])


def reserved(bench: Bench, lot: str, quantity: int, **more: Any) -> Any:
    """So many of a lot promised to one order."""
    return bench.api.shop.made("/reservations", order(lot, quantity, **more))


def seen(bench: Bench, reservation: Any) -> Any:
    """A reservation as it is now."""
    return bench.api.shop.seen(f"/reservations/{reservation['id']}")


def named(bench: Bench, sku: str, plant: str = "anubias-barteri", **more: Any) -> Any:
    """A plant in a unit of sale under a number of its own."""
    body = {"sku": sku, "plant_id": bench.plants[plant], "unit_of_sale": "pot", **more}
    return bench.api.seller.made("/sales-items", body)
