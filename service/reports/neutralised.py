"""What neutralisers took from what their treatments poured, as the ledger has it."""

from collections.abc import Sequence
from datetime import datetime
from itertools import groupby
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from service.reports.rules_neutralised import Poured, left_of_chlorine
from service.reports.spans import Span, undone, within
from service.stores.models import Material, StockBatch, StockEntry
from service.stores.rules import USES

NEUTRALISE = "neutralise"


def left_after_neutralising(session: Session, span: Span, zone: str) -> dict[str, int | None]:
    """Milligrams left of each line of chlorine in treatments that have a neutraliser and lines in the span.

    Their lines outside the span are read as well: a step may be neutralised on the day after.
    """
    touched = within(select(StockEntry.treatment_id), span, zone)
    rows = session.execute(
        select(
            StockEntry.treatment_id,
            StockEntry.id,
            Material.substance,
            StockEntry.active_mg,
            Material.figures["neutraliser_agent"].as_string(),
        )
        .join(StockBatch, StockBatch.id == StockEntry.batch_id)
        .join(Material, Material.id == StockBatch.material_id)
        .where(
            StockEntry.treatment_id.in_(_neutralised()),
            StockEntry.treatment_id.in_(touched),
            StockEntry.reason.in_(sorted(USES)),
            StockEntry.id.not_in(undone()),
        )
        .order_by(StockEntry.treatment_id, StockEntry.at, StockEntry.id)
    )
    left: dict[str, int | None] = {}
    for _, lines in groupby(rows, key=lambda row: row[0]):
        left |= left_of_chlorine(
            Poured(id_, substance, None if active is None else -active, agent)
            for _, id_, substance, active, agent in lines
        )
    return left


def moments_of_neutralised(session: Session, treatment_id: str) -> Sequence[datetime]:
    """When a treatment poured anything, if a neutraliser is among it."""
    return session.scalars(
        select(StockEntry.at)
        .where(StockEntry.treatment_id == treatment_id, StockEntry.treatment_id.in_(_neutralised()))
        .distinct()
    ).all()


def _neutralised() -> Select[Any]:
    return select(StockEntry.treatment_id).where(
        StockEntry.reason == NEUTRALISE, StockEntry.treatment_id.is_not(None)
    )
