"""The reorder report and the days ahead, as answered."""

from datetime import date
from typing import Any

from service.core.shapes import ExactAmount
from service.ordering.rules import Reorder, Shelf, ahead
from service.ordering.words import reasons
from service.stores.supply import money

AMOUNTS = ("usable", "committed", "expected", "reorder_point")


def reorder_row(shelf: Shelf, line: Reorder) -> dict[str, Any]:
    """A line as answered."""
    amounts = {name: ExactAmount.of(getattr(line, name), line.base_unit) for name in AMOUNTS}
    return {
        "material": line.material_code,
        **amounts,
        "enough_history": line.enough_history,
        "intermittent": line.intermittent,
        "runs_out_on": line.runs_out_on,
        "order_by": line.order_by,
        "packs": line.packs,
        "quantity": None if line.quantity is None else ExactAmount.of(line.quantity, line.base_unit),
        "cost": money(line.cost, shelf.terms.currency),
        "will_expire": line.will_expire,
        "low": line.low,
        "reasons": reasons(shelf, line),
    }


def projection_rows(shelf: Shelf, today: date, days: int) -> list[dict[str, Any]]:
    """The stock of a material day by day, if nothing is ordered; a balance below zero is what is missing."""
    names = ("committed", "expected", "expires", "balance")
    return [
        {
            "material": shelf.material_code,
            "day": day.day,
            **{name: ExactAmount.of(round(getattr(day, name)), shelf.base_unit) for name in names},
        }
        for day in ahead(shelf, today, days)
    ]
