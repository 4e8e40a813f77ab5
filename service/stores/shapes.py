"""Batches as answered."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from sqlalchemy.orm import Session

from service.core.shapes import ExactAmount
from service.stores import supply
from service.stores.models import Material, StockBatch
from service.stores.queries import facts_of_all
from service.stores.rules import BatchToday, batch_today
from service.stores.rules_receipts import containers
from service.stores.shelf_log import stays_of

Path = Sequence[tuple[datetime, str | None]]


def batch_views(
    session: Session, pairs: Sequence[tuple[StockBatch, Material]], on: date
) -> list[dict[str, Any]]:
    """Batches as answered, in their order, with their strength and fitness on a day."""
    stays = stays_of(session, [batch.id for batch, _ in pairs])
    return [
        _view(batch, material, batch_today(facts, on), stays.get(batch.id, []))
        for (batch, material), facts in zip(pairs, facts_of_all(session, pairs), strict=True)
    ]


def batch_view(session: Session, batch: StockBatch, material: Material, on: date) -> dict[str, Any]:
    """One batch as answered."""
    return batch_views(session, [(batch, material)], on)[0]


def _view(batch: StockBatch, material: Material, today: BatchToday, path: Path) -> dict[str, Any]:
    return {
        "id": batch.id,
        "material": material.code,
        "batch_number": batch.batch_number,
        "balance": ExactAmount.of(batch.balance, material.base_unit),
        "received": ExactAmount.of(batch.received, material.base_unit),
        "containers": _containers(batch, material.base_unit),
        "usable": today.usable,
        "why_not": list(today.why_not),
        "strength": _strength(batch.strength_value, batch.strength_basis),
        "strength_today": _strength_today(today),
        "aged": today.aged,
        "measured": _measured(batch),
        "received_at": batch.received_at,
        "made_on": batch.made_on,
        "opened_on": batch.opened_on,
        "expires_on": batch.expires_on,
        "keeps_until": today.expires_on,
        "copper_form": batch.copper_form,
        "drop_ml": batch.drop_ml,
        "shelf_celsius": batch.shelf_celsius,
        "shelf_id": path[-1][1] if path else None,
        "cost": supply.money(batch.cost_minor, batch.currency),
        "blocked": batch.blocked,
        "block_reason": batch.block_reason,
        "version": batch.version,
    }


def _containers(batch: StockBatch, base_unit: str) -> dict[str, Any] | None:
    size = batch.container_base_units
    if size is None:
        return None
    counted = {"received": containers(batch.received, size), "left": containers(batch.balance, size)}
    return {"size": ExactAmount.of(size, base_unit), **counted}


def _strength(value: float | None, basis: str | None) -> dict[str, Any] | None:
    return None if value is None else {"value": value, "basis": basis}


def _strength_today(today: BatchToday) -> dict[str, Any] | None:
    if today.g_per_l is not None:
        return {"value": today.g_per_l, "unit": "g/L"}
    return None if today.content_fraction is None else {"value": today.content_fraction, "unit": "1"}


def _measured(batch: StockBatch) -> dict[str, Any] | None:
    if batch.measured_g_per_l is None:
        return None
    return {"value": batch.measured_g_per_l, "unit": "g/L", "at": batch.measured_at}
