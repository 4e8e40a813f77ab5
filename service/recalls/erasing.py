"""Erasing what the house knows of a customer; the journal stays whole, because he is not named in it."""

import json
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Text, cast, func, or_, select
from sqlalchemy.orm import Session

from service.core.db import Database
from service.core.errors import NotFound, Refused
from service.core.idempotency import change_answers
from service.core.reasons import Reason
from service.journal.actions import record
from service.journal.acts import Act
from service.journal.models import JournalEntry
from service.recalls.models import Complaint, Recall, RecallNotice
from service.recalls.progress import customers_progress
from service.recalls.rules_erasing import ERASED, without
from service.sales.models import Dispatch, Reservation
from service.sales.rules_reservations import LIVING

TABLES = ("dispatch", "reservation", "complaint", "recall_notice", "idempotency_key")


@dataclass(frozen=True)
class Erased:
    """How many of each spoke of the customer, and how many entries of the journal still do."""

    dispatches: int
    reservations: int
    complaints: int
    notices: int
    answers: int
    left_in_journal: int


def erase(session: Session, act: Act, reference: str) -> Erased:
    """Take a customer's reference and what he said out of sales, complaints, notices and kept answers.

    Raises NotFound when nothing speaks of him, Refused while something is still owed to him.
    """
    dispatches = _locked(session, Dispatch, Dispatch.customer_ref == reference)
    reservations = _locked(session, Reservation, Reservation.customer_ref == reference)
    if not dispatches and not reservations:
        raise NotFound("customer")
    ids = {sent.id for sent in dispatches}
    complaints = _locked(session, Complaint, Complaint.dispatch_id.in_(ids))
    notices = _locked(session, RecallNotice, RecallNotice.dispatch_id.in_(ids))
    Refused.unless_empty("still-owed", _owed(session, ids, reservations, complaints))
    texts = {found.what for found in complaints} | {found.note for found in notices if found.note}
    for bought in (*dispatches, *reservations):
        bought.customer_ref = None
    for complaint in complaints:
        complaint.what = ERASED
    for notice in notices:
        notice.note = notice.note and ERASED
    answers = change_answers(session, lambda document: without(document, reference, texts))
    counts = {
        "dispatches": len(dispatches),
        "reservations": len(reservations),
        "complaints": len(complaints),
        "notices": len(notices),
    }
    record(session, act, "customer.erased", [*dispatches, *reservations, *complaints], after=counts)
    return Erased(**counts, answers=answers, left_in_journal=_in_journal(session, reference))


def wipe(database: Database) -> None:
    """Give back the room in which former contents of rows still stand."""
    if database.engine.dialect.name == "postgresql":
        with database.engine.connect() as connection:
            bare = connection.execution_options(isolation_level="AUTOCOMMIT")
            bare.exec_driver_sql(f"VACUUM {', '.join(TABLES)}")
        return
    driver = database.engine.raw_connection()  # SQLAlchemy would begin a transaction
    try:
        cursor = driver.cursor()
        cursor.execute("VACUUM")
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    finally:
        driver.close()


def _locked(session: Session, table: Any, which: Any) -> list[Any]:
    wanted = select(table).where(which).order_by(table.id).with_for_update()
    return list(session.scalars(wanted.execution_options(populate_existing=True)))


def _owed(
    session: Session, dispatch_ids: set[str], reservations: list[Reservation], complaints: list[Complaint]
) -> list[Reason]:
    """Why a customer cannot be forgotten yet."""
    reasons = [
        Reason("reserved-still", "Plants are promised to this customer.", "sent or cancelled", made.id)
        for made in reservations
        if made.status in LIVING
    ]
    reasons += [
        Reason("complaint-open", "His complaint was not judged yet.", "a verdict", found.id)
        for found in complaints
        if found.verdict is None
    ]
    for recall_id in session.scalars(select(Recall.id).where(Recall.closed_at.is_(None))).all():
        reasons += [
            Reason("customer-not-told", "An open recall has to tell him.", "a notice", found.dispatch_id)
            for found in customers_progress(session, recall_id)
            if found.dispatch_id in dispatch_ids and found.told_at is None
        ]
    return reasons


def _in_journal(session: Session, reference: str) -> int:
    """In how many entries somebody typed the reference in by hand, as a reason or a note."""
    pattern = json.dumps(reference)[1:-1]  # as it stands in a JSON text, without its quotes
    found = or_(
        func.replace(cast(JournalEntry.after, Text), pattern, "") != cast(JournalEntry.after, Text),
        func.replace(cast(JournalEntry.before, Text), pattern, "") != cast(JournalEntry.before, Text),
        func.replace(JournalEntry.late_reason, reference, "") != JournalEntry.late_reason,
    )
    return session.scalar(select(func.count()).select_from(JournalEntry).where(found)) or 0
