"""Shelves for tests of when to order."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from service.ordering.rules import Shelf
from service.ordering.rules_ahead import DoseAhead
from service.ordering.rules_quantity import Terms

TODAY = date(2026, 3, 1)
FAR = date(2030, 1, 1)


def ahead(days: int) -> date:
    return TODAY + timedelta(days=days)


def needs(amounts: dict[int, int], treatment_id: str = "one") -> list[DoseAhead]:
    """Doses by the number of the day from today."""
    return [DoseAhead(ahead(day), treatment_id, amount) for day, amount in amounts.items()]


def shelf(**changes: Any) -> Shelf:
    """700 uL that keep, seven days to deliver, never used; `changes` go to the shelf or to its terms."""
    plain = Shelf(
        material_code="copper-stock",
        base_unit="uL",
        terms=Terms(lead_time_days=7),
        batches=[(FAR, 700)],
        doses=[],
        used=[],
    )
    own = {name: changes.pop(name) for name in ("batches", "doses", "used") if name in changes}
    return replace(plain, terms=replace(plain.terms, **changes), **own)
