"""What to order by when: stock, doses still to come and the history of use, brought together."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.core.clock import day_start, local_day
from service.core.house import house
from service.journal.notices import Condition
from service.ordering.rules import Reorder, Shelf, reorder
from service.ordering.rules_ahead import DoseAhead, shortfalls
from service.ordering.rules_quantity import Terms
from service.stores.ledger import daily_use
from service.stores.models import Material, StockBatch
from service.stores.queries import usable_batches
from service.stores.rules import USES
from service.treatments.models import Treatment
from service.treatments.queries import doses_to_come, running

HISTORY_DAYS = 90
LOW = Condition("stock.low", "stock.recovered")
SHORT = Condition("stock.short_for_course", "stock.enough_for_course")


def shelves(session: Session, now: datetime) -> list[Shelf]:
    """Every material that was ever in stock or is still needed, by code."""
    zone = house(session).time_zone
    today = local_day(now, zone)
    oldest = today - timedelta(days=HISTORY_DAYS)
    doses, since = _doses(session, now, zone), _first_days(session, zone)
    used = daily_use(session, USES, day_start(oldest, zone))
    known = session.scalars(
        select(Material).where(Material.code.in_(doses.keys() | since.keys())).order_by(Material.code)
    ).all()
    stock = usable_batches(session, [material.code for material in known], now)
    return [
        Shelf(
            material_code=material.code,
            base_unit=material.base_unit,
            terms=_terms(material),
            batches=stock[material.code],
            doses=doses.get(material.code, []),
            used=_days(used.get(material.code, {}), max(oldest, since.get(material.code, today)), today),
        )
        for material in known
    ]


def reorder_lines(session: Session, now: datetime) -> list[tuple[Shelf, Reorder]]:
    """What to order by when, per material."""
    today = local_day(now, house(session).time_zone)
    return [(shelf, reorder(shelf, today)) for shelf in shelves(session, now)]


def short_treatments(session: Session, of: Sequence[Shelf]) -> list[tuple[Treatment, list[dict[str, Any]]]]:
    """Every treatment under way with what it will miss, by material; nothing for one that gets all."""
    missing: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for shelf in of:
        for short in shortfalls(shelf.batches, shelf.doses):
            missing[short.treatment_id].append(
                {
                    "material": shelf.material_code,
                    "since": short.since,
                    "amount": short.base_units,
                    "unit": shelf.base_unit,
                }
            )
    return [(treatment, missing.get(treatment.id, [])) for treatment in running(session)]


def _doses(session: Session, now: datetime, zone: str) -> dict[str, list[DoseAhead]]:
    found: dict[str, list[DoseAhead]] = defaultdict(list)
    for dose in doses_to_come(session, now):
        ahead = DoseAhead(local_day(dose.at, zone), dose.treatment_id, dose.base_units)
        found[dose.material_code].append(ahead)
    return dict(found)


def _terms(material: Material) -> Terms:
    return Terms(
        lead_time_days=material.lead_time_days,
        lead_time_deviation_days=material.lead_time_deviation_days,
        service_level=material.service_level,
        pack=material.pack_base_units,
        least_order=material.least_order_base_units or 0,
        pack_cost=material.pack_cost_minor,
        order_cost=material.order_cost_minor,
        currency=material.order_currency,
        keeps_days=(material.figures.get("keeping") or {}).get("shelf_life_days"),
    )


def _first_days(session: Session, zone: str) -> dict[str, date]:
    # The first line of every batch is its receipt, so that no line of the ledger need be read.
    rows = session.execute(
        select(Material.code, func.min(StockBatch.received_at))
        .join(StockBatch, StockBatch.material_id == Material.id)
        .group_by(Material.code)
    )
    return {code: local_day(first, zone) for code, first in rows}


def _days(used: Mapping[date, int], since: date, until: date) -> list[int]:
    return [used.get(since + timedelta(days=offset), 0) for offset in range((until - since).days + 1)]
