"""What open recalls and complaints still owe: looks, and notices to customers."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.lots.models import Lot
from service.recalls.complaints import lots_of
from service.recalls.models import Complaint, Recall
from service.recalls.progress import customers_progress, looked_again, lots_progress
from service.recalls.rules import LOOK_WITHIN, TELL_WITHIN, LotProgress


@dataclass(frozen=True)
class OwedLook:
    """A lot that must be looked at again; `cause_id` is of the recall or the complaint."""

    cause_id: str
    why: str
    lot_id: str
    lot_code: str
    tub_id: str | None
    due_at: datetime


@dataclass(frozen=True)
class OwedNotices:
    """A recall some of whose customers were not told yet."""

    recall_id: str
    dispatches: int
    due_at: datetime


def owed_looks(session: Session) -> Iterator[OwedLook]:
    """The looks that open recalls and complaints not judged yet still owe."""
    for recall in _open_recalls(session):
        why = "It is within reach of a recall."
        yield from _looks(session, recall, why, lots_progress(session, recall))
    waiting = select(Complaint).where(Complaint.verdict.is_(None)).order_by(Complaint.at)
    for complaint in session.scalars(waiting).all():
        lots = looked_again(session, lots_of(session, complaint.id), complaint.at)
        yield from _looks(session, complaint, "A customer complained of it.", lots)


def owed_notices(session: Session) -> Iterator[OwedNotices]:
    """The open recalls that have customers to tell."""
    for recall in _open_recalls(session):
        untold = [found for found in customers_progress(session, recall.id) if found.told_at is None]
        if untold:
            yield OwedNotices(recall.id, len(untold), recall.at + TELL_WITHIN)


def _looks(
    session: Session, cause: Recall | Complaint, why: str, lots: Iterable[LotProgress]
) -> Iterator[OwedLook]:
    for lot in lots:
        if lot.owes_look:
            tub_id = session.scalar(select(Lot.tub_id).where(Lot.id == lot.lot_id))
            yield OwedLook(cause.id, why, lot.lot_id, lot.code, tub_id, cause.at + LOOK_WITHIN)


def _open_recalls(session: Session) -> Sequence[Recall]:
    return session.scalars(select(Recall).where(Recall.closed_at.is_(None)).order_by(Recall.at)).all()
