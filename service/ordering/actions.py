"""The journal takes note of materials that fall to their reorder point, and of those that recover."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.journal.actions import record
from service.journal.acts import Act
from service.journal.models import JournalEntry, JournalSubject
from service.ordering.queries import reorder_lines
from service.stores.queries import material_by_code

BY = "timetable"
LOW, RECOVERED = "stock.low", "stock.recovered"


def check_reorder(session: Session, payload: Mapping[str, Any], now: datetime) -> None:
    """Job: one entry `stock.low` when a material gets low, once until it recovered."""
    noted = _noted_low(session)
    for _, line in reorder_lines(session, now):
        material = material_by_code(session, line.material_code)
        if line.low != (material.id in noted):
            after = {
                "material": line.material_code,
                "usable": line.usable,
                "committed": line.committed,
                "reorder_point": line.reorder_point,
                "order_by": line.order_by,
                "packs": line.packs,
            }
            record(session, Act(BY, now, now), LOW if line.low else RECOVERED, [material], after=after)


def _noted_low(session: Session) -> set[str]:
    rows = session.execute(
        select(JournalSubject.subject_id, JournalEntry.kind)
        .join(JournalEntry, JournalEntry.seq == JournalSubject.seq)
        .where(JournalSubject.subject_kind == "material", JournalEntry.kind.in_([LOW, RECOVERED]))
        .order_by(JournalEntry.seq)
    ).all()
    last = {row.subject_id: row.kind for row in rows}
    return {material_id for material_id, kind in last.items() if kind == LOW}
