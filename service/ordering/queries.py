"""What to order by when: stock, doses still to come and the history of use, brought together."""

from collections import defaultdict
from collections.abc import Mapping
from datetime import date, datetime, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.core.clock import day_start, local_day
from service.core.house import house
from service.core.shapes import ExactAmount
from service.ordering.rules import Reorder, Shelf, reorder
from service.ordering.words import reasons
from service.stores.ledger import daily_use
from service.stores.models import Material, StockBatch, StockEntry
from service.stores.queries import batches_today
from service.stores.rules import OF_TREATMENTS
from service.treatments.queries import doses_to_come

HISTORY_DAYS = 90


def committed(session: Session, now: datetime) -> dict[str, dict[date, int]]:
    """What treatments under way will still draw, by material code and local day, in base units."""
    zone = house(session).time_zone
    found: dict[str, dict[date, int]] = defaultdict(lambda: defaultdict(int))
    for dose in doses_to_come(session, now):
        found[dose.material_code][local_day(dose.at, zone)] += dose.base_units
    return {code: dict(days) for code, days in found.items()}


def shelves(session: Session, now: datetime) -> list[Shelf]:
    """Every material that was ever in stock or is still needed, by code."""
    zone = house(session).time_zone
    today = local_day(now, zone)
    oldest = today - timedelta(days=HISTORY_DAYS)
    needs, since = committed(session, now), _first_days(session, zone)
    used = daily_use(session, OF_TREATMENTS, day_start(oldest, zone))
    known = session.scalars(
        select(Material).where(Material.code.in_(needs.keys() | since.keys())).order_by(Material.code)
    ).all()
    stock = batches_today(session, [material.code for material in known], now)
    return [
        Shelf(
            material_code=material.code,
            base_unit=material.base_unit,
            lead_time_days=material.lead_time_days,
            pack=material.pack_base_units,
            batches=[(b.expires_on or date.max, b.balance) for b in stock[material.code] if b.usable],
            needs=needs.get(material.code, {}),
            used=_days(used.get(material.code, {}), max(oldest, since.get(material.code, today)), today),
        )
        for material in known
    ]


def reorder_lines(session: Session, now: datetime) -> list[tuple[Shelf, Reorder]]:
    """What to order by when, per material."""
    today = local_day(now, house(session).time_zone)
    return [(shelf, reorder(shelf, today)) for shelf in shelves(session, now)]


def reorder_row(shelf: Shelf, line: Reorder) -> dict[str, object]:
    """A line as answered."""
    names = ("usable", "committed", "expected", "reorder_point")
    amounts = {name: ExactAmount.of(getattr(line, name), line.base_unit) for name in names}
    return {
        "material": line.material_code,
        **amounts,
        "enough_history": line.enough_history,
        "runs_out_on": line.runs_out_on,
        "order_by": line.order_by,
        "packs": line.packs,
        "low": line.low,
        "reasons": reasons(shelf, line),
    }


def _first_days(session: Session, zone: str) -> dict[str, date]:
    rows = session.execute(
        select(Material.code, func.min(StockEntry.at))
        .join(StockBatch, StockBatch.material_id == Material.id)
        .join(StockEntry, StockEntry.batch_id == StockBatch.id)
        .group_by(Material.code)
    )
    return {code: local_day(first, zone) for code, first in rows}


def _days(used: Mapping[date, int], since: date, until: date) -> list[int]:
    return [used.get(since + timedelta(days=offset), 0) for offset in range((until - since).days + 1)]
