"""Batches that will soon be, or are, out of date or too weak: the journal takes note of each once."""

from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy.orm import Session

from service.core.clock import local_day
from service.core.house import house
from service.core.jobs import owe
from service.journal.actions import Note
from service.journal.notices import Condition, Finding, note
from service.stores.models import StockBatch
from service.stores.queries import batches, facts_of_all
from service.stores.rules import BatchFacts, keeps_until
from service.stores.rules_potency import strong_enough, usable_until

CHECK = "check_expiry"
EXPIRED = Condition("stock.expired", "stock.in_date_again")
EXPIRING = Condition("stock.expiring", "stock.keeps_longer")
TOO_WEAK = Condition("stock.too_weak", "stock.strong_again")
SOON = timedelta(days=30)  # assumed: time to use a batch up, or to order another


def on_batch_changed(session: Session, entry: Note) -> None:
    """Reaction to a batch that was opened, tested or moved: owe a look at how long it keeps."""
    owe(session, CHECK, CHECK, entry.act.now)


def check_expiry(session: Session, payload: Mapping[str, Any], now: datetime) -> None:
    """Job: `stock.expiring` 30 days before the last day of use, `stock.expired` or `stock.too_weak` after it.

    What is too weak may be tested and found strong: `stock.strong_again`. A batch opened on another day than
    was written, or found stronger than its age, is `stock.in_date_again` or `stock.keeps_longer`.
    """
    today = local_day(now, house(session).time_zone)
    found = list(_with_stock(session))
    expiring, expired, weak = [], [], []
    for batch, facts in found:
        last_day, in_date = usable_until(facts, today), keeps_until(facts) >= today
        known = {"last_day": last_day if in_date else keeps_until(facts), "balance": batch.balance}
        if today <= last_day:
            expiring.append(Finding(batch, last_day <= today + SOON, known))
        expired.append(Finding(batch, not in_date, known))
        weak.append(Finding(batch, in_date and not strong_enough(facts, today), known))
    note(session, now, {EXPIRING: expiring, EXPIRED: expired, TOO_WEAK: weak})


def _with_stock(session: Session) -> Iterator[tuple[StockBatch, BatchFacts]]:
    statement = batches(None, with_stock=False).where(StockBatch.balance > 0).order_by(StockBatch.id)
    rows = [(batch, material) for batch, material in session.execute(statement)]
    return zip((batch for batch, _ in rows), facts_of_all(session, rows), strict=True)
