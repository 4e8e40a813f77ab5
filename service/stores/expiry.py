"""Batches that will soon be, or are, out of date: the journal takes note of each once."""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy.orm import Session

from service.core.clock import local_day
from service.core.house import house
from service.journal.notices import Condition, Finding, note
from service.stores.models import StockBatch
from service.stores.queries import batch_facts, batches
from service.stores.rules import keeps_until

EXPIRED = Condition("stock.expired")
EXPIRING = Condition("stock.expiring")
SOON = timedelta(days=30)  # assumed: time to use a batch up, or to order another


def last_days(session: Session) -> list[tuple[StockBatch, date]]:
    """Every batch with something in it, and the last day it may be used on."""
    zone = house(session).time_zone
    rows = session.execute(
        batches(None, with_stock=False).where(StockBatch.balance > 0).order_by(StockBatch.id)
    )
    return [(batch, keeps_until(batch_facts(batch, material, zone))) for batch, material in rows]


def check_expiry(session: Session, payload: Mapping[str, Any], now: datetime) -> None:
    """Job: `stock.expiring` 30 days before a batch goes out of date, `stock.expired` after its last day."""
    today = local_day(now, house(session).time_zone)
    kept = [(batch, day, {"last_day": day, "balance": batch.balance}) for batch, day in last_days(session)]
    note(session, now, EXPIRING, [Finding(b, today <= day <= today + SOON, facts) for b, day, facts in kept])
    note(session, now, EXPIRED, [Finding(batch, day < today, facts) for batch, day, facts in kept])
