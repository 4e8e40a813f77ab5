"""Years of lots and ledger lines, added to a house in which something of everything has happened."""

from datetime import timedelta
from typing import Any

from sqlalchemy import insert, select, text
from sqlalchemy.orm import Session

from service.core.clock import utc_now
from service.core.db import Database
from service.core.ids import new_id
from service.journal.actions import REACTIONS, record
from service.journal.acts import Act
from service.lots.models import Lot
from service.reports.actions import rebuild
from service.reports.spans import Span
from service.stores.models import StockBatch, StockEntry

AT_ONCE = 1000  # entries of a transaction
BALANCES = text(
    "UPDATE stock_batch SET balance = (SELECT sum(amount) FROM stock_entry WHERE batch_id = stock_batch.id)"
)


def grown(database: Database, *, lots: int, lines: int) -> None:
    """So many lots more, and so many lines of what tests used, each with its entry in the journal."""
    for begin in range(0, lots, AT_ONCE):
        with database.writing() as session:
            _more_lots(session, range(begin, min(begin + AT_ONCE, lots)))
    for begin in range(0, lines, AT_ONCE):
        with database.writing() as session:
            _more_lines(session, range(begin, min(begin + AT_ONCE, lines)))
    with database.writing() as session:
        session.execute(BALANCES)
        rebuild(session, Span())
    if database.engine.dialect.name == "postgresql":
        with database.engine.connect() as connection:
            connection.exec_driver_sql("ANALYZE")  # what the server does by itself within a minute
            connection.commit()


def _more_lots(session: Session, numbers: range) -> None:
    session.info[REACTIONS] = {}  # nothing follows: no job is owed for each of thousands
    now = utc_now()
    like = session.scalars(select(Lot).where(Lot.state == "received").limit(1)).one()
    kept = ("plant_id", "supplier_id", "shipment_id", "unit_of_sale", "state", "state_since", "received_at")
    for n in numbers:
        lot = Lot(code=f"G-{n:06d}", received=20, left=20, **{name: getattr(like, name) for name in kept})
        session.add(lot)
        record(session, Act("a large house", now, now), "lot.received", [lot], after={"received": 20})


def _more_lines(session: Session, numbers: range) -> None:
    session.info[REACTIONS] = {}
    now = utc_now()
    batches = session.scalars(select(StockBatch.id).order_by(StockBatch.id)).all()
    rows: list[dict[str, Any]] = [
        {
            "id": new_id(),
            "batch_id": batches[n % len(batches)],
            "amount": -1 - n % 3,
            "reason": "test",
            "cause_kind": "stock_use",
            "cause_id": new_id(),
            "at": now - timedelta(minutes=n % 70_000),
            "recorded_at": now,
            "by": "a large house",
        }
        for n in numbers
    ]
    session.execute(insert(StockEntry), rows)
    for row in rows:
        told = {"entry_id": row["id"], "amount": row["amount"]}
        record(session, Act("a large house", row["at"], now), "stock.used", [], after=told)
