"""The acts of the stores on a real database, each beside what the shelf in the head foresees of it."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core.db import Database
from service.core.errors import Refused
from service.core.ids import new_id
from service.science.amounts import Amount
from service.stores import actions
from service.stores.batches import receive_batch
from service.stores.ledger import entry_by_id
from service.stores.models import StockEntry
from service.stores.queries import batch_by_id, material_by_code
from service.stores.rules import Way
from tests.stores.ledger import act, drawn
from tests.stores.shelf import Line, Place, Shelf, size

KINDS = ("receive", "draw", "draw", "draw", "count", "dispose", "reverse")
KEEPS_DAYS = (30, 5, -2, 30, 90)  # one delivery in five is out of date and never drawn from
UNSAID = (
    "made_on",
    "opened_on",
    "expires_on",
    "strength",
    "copper_form",
    "drop_ml",
    "cost",
    "container_size",
    "shelf_id",
)
Booking = Callable[[Session], list[Line]]


def delivery(**changes: Any) -> dict[str, Any]:
    """What is said of a delivery: 1 L under a number of its own, unless `changes` say otherwise."""
    plain = {"quantity": Amount(Decimal(1), "L"), "shelf_celsius": 20.0, "confirm_duplicate": False}
    return {**dict.fromkeys(UNSAID), **plain, "batch_number": new_id(), **changes}


@dataclass(frozen=True)
class Doing:
    """One act: what it must book (None: it must be refused), and how to do it."""

    foreseen: list[Line] | None
    book: Booking

    def done(self, database: Database) -> list[Line] | None:
        """Do it in a transaction of its own; the lines it booked, None when it was refused."""
        try:
            with database.writing() as session:
                found = self.book(session)
        except Refused:
            return None
        return found


def doing(shelf: Shelf, kind: str, which: int, how_much: str) -> Doing:
    """The act that a kind, a place on the shelf and an amount mean."""
    if kind == "receive" or not shelf.balances:
        return _receiving(shelf, which)
    if kind == "draw":
        return _drawing(shelf, size(how_much, sum(shelf.balances[one] for one in shelf.usable())))
    if kind == "reverse":
        return _reversing(shelf, shelf.lines[which % len(shelf.lines)])
    batch_id = list(shelf.balances)[which % len(shelf.balances)]
    amount = size(how_much, shelf.balances[batch_id])
    return (
        _disposing(shelf, batch_id, amount) if kind == "dispose" else _counting(shelf, batch_id, amount - 1)
    )


def _receiving(shelf: Shelf, which: int) -> Doing:
    keeps_days, amount = KEEPS_DAYS[which % len(KEEPS_DAYS)], 1000 * (which + 1)

    def book(session: Session) -> list[Line]:
        expires_on = (datetime.now(UTC) + timedelta(days=keeps_days)).date()
        facts = delivery(quantity=Amount(Decimal(amount), "mg"), expires_on=expires_on)
        batch = receive_batch(session, act(), material_by_code(session, shelf.code), facts)
        shelf.places[batch.id] = Place(keeps_days, batch.received_at.timestamp())
        return _lines(session, batch.id)

    return Doing(None, book)  # the batch is not known before


def _drawing(shelf: Shelf, amount: int) -> Doing:
    def book(session: Session) -> list[Line]:
        cause_id = new_id()
        drawn(session, shelf.code, amount, cause_id=cause_id)
        return _lines(session, cause_id)

    return Doing(shelf.drawing(amount), book)


def _counting(shelf: Shelf, batch_id: str, counted: int) -> Doing:
    def book(session: Session) -> list[Line]:
        batch = batch_by_id(session, batch_id, lock=True)
        _, _, entry = actions.count(session, act(), batch, counted, None)
        return [] if entry is None else _lines(session, entry.cause_id)

    return Doing(shelf.adding(batch_id, counted - shelf.balances[batch_id]), book)


def _disposing(shelf: Shelf, batch_id: str, amount: int) -> Doing:
    def book(session: Session) -> list[Line]:
        batch = batch_by_id(session, batch_id, lock=True)
        entry = actions.dispose(session, act(), batch, amount, way=Way.SPILLED, reason="spilled")
        return _lines(session, entry.cause_id)

    return Doing(shelf.adding(batch_id, -amount), book)


def _reversing(shelf: Shelf, line: Line) -> Doing:
    def book(session: Session) -> list[Line]:
        entry = entry_by_id(session, str(line.entry_id))
        undone = actions.reverse(session, act(), entry, "a mistake", by_manager=True)
        return _lines(session, undone.cause_id, reason="reversal")

    return Doing(shelf.reversing(line), book)


def _lines(session: Session, cause_id: str, **like: str) -> list[Line]:
    session.flush()
    found = session.scalars(select(StockEntry).filter_by(cause_id=cause_id, **like).order_by(StockEntry.id))
    return [Line(entry.batch_id, entry.amount, entry.reverses_id, entry.id) for entry in found]
