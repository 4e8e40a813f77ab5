"""The report of what left stock unused: shrinkage by counts, and disposals by their way."""

from collections.abc import Iterator
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core.clock import local_day
from service.core.house import house
from service.core.shapes import ExactAmount
from service.reports.rules import money, sums_of_line
from service.reports.rules_losses import Lost, by_month, how
from service.reports.spans import Span, undone, within
from service.stores.models import UNUSED, Material, StockBatch, StockEntry
from service.stores.queries import is_material

LINE: tuple[Any, ...] = (
    StockEntry.at,
    StockEntry.amount,
    StockEntry.active_mg,
    StockEntry.reason,
    StockEntry.way,
    StockBatch.material_id,
    StockBatch.received,
    StockBatch.cost_minor,
    StockBatch.currency,
)


def losses(session: Session, span: Span, material: str | None) -> list[dict[str, Any]]:
    """The rows of the report: by month, material (one code or id, or all) and how it left."""
    known = {m.id: m for m in session.execute(select(Material.id, Material.code, Material.base_unit))}
    rows = [
        (month, known[material_id], means, sums, many)
        for (month, material_id, means), (sums, many) in by_month(lost(session, span, material)).items()
    ]
    return [
        {
            "month": month,
            "material": named.code,
            "how": means,
            "amount": ExactAmount.of(sums.used, named.base_unit),
            "cost": money(sums),
            "active_mass": None if sums.active_mg is None else ExactAmount.of(sums.active_mg, "mg"),
            "lines": many,
        }
        for month, named, means, sums, many in sorted(rows, key=lambda row: (row[0], row[1].code, row[2]))
    ]


def lost(session: Session, span: Span, material: str | None) -> Iterator[Lost]:
    """Each line of a count or disposal in these local days; reversed lines never happened."""
    zone = house(session).time_zone
    statement = (
        select(*LINE)
        .join(StockBatch, StockBatch.id == StockEntry.batch_id)
        .join(Material, Material.id == StockBatch.material_id)
        .where(UNUSED, StockEntry.id.not_in(undone()))
    )
    if material is not None:
        statement = statement.where(is_material(material))
    rows = session.execute(within(statement, span, zone))
    for at, amount, active, reason, way, material_id, received, cost, currency in rows:
        # More than was expected is shown as an amount of its own, not as a loss below zero.
        sums = sums_of_line(
            amount=-abs(amount),
            active_mg=None if active is None else -abs(active),
            reason=reason,
            way=way,
            received=received,
            cost_minor=cost,
            currency=currency,
        )
        yield Lost(local_day(at, zone), material_id, how(reason, way, amount), sums)
