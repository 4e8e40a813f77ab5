"""Batches that can no longer be used: the journal takes note of each once."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core.clock import local_day
from service.core.house import house
from service.journal.actions import record
from service.journal.acts import Act
from service.journal.models import JournalEntry, JournalSubject
from service.stores.models import StockBatch
from service.stores.queries import batch_facts, batches
from service.stores.rules import keeps_until

BY = "timetable"
EXPIRED = "stock.expired"


def out_of_date(session: Session, on: date) -> list[tuple[StockBatch, date]]:
    """The batches with something in them whose last day of use lies before `on`, and that day."""
    zone = house(session).time_zone
    rows = session.execute(
        batches(None, with_stock=False).where(StockBatch.balance > 0).order_by(StockBatch.id)
    )
    kept = [(batch, keeps_until(batch_facts(batch, material, zone))) for batch, material in rows]
    return [(batch, last_day) for batch, last_day in kept if last_day < on]


def check_expiry(session: Session, payload: Mapping[str, Any], now: datetime) -> None:
    """Job: one entry `stock.expired` for every batch that is out of date, once per batch."""
    noted = _noted(session)
    for batch, last_day in out_of_date(session, local_day(now, house(session).time_zone)):
        if batch.id not in noted:
            after = {"last_day": last_day, "balance": batch.balance}
            record(session, Act(BY, now, now), EXPIRED, [batch], after=after)


def _noted(session: Session) -> set[str]:
    return set(
        session.scalars(
            select(JournalSubject.subject_id)
            .join(JournalEntry, JournalEntry.seq == JournalSubject.seq)
            .where(JournalSubject.subject_kind == "stock_batch", JournalEntry.kind == EXPIRED)
        )
    )
