"""Due work on cleared lots that wait to be sold: another look, or another decision."""

from collections.abc import Iterator

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.agenda.rules import Kind
from service.agenda.work import Work
from service.clearance.models import Certificate
from service.lots.models import Lot
from service.lots.rules import State


def cleared_work(session: Session) -> Iterator[Work]:
    """What must be done before a cleared lot is good no longer."""
    rows = session.execute(
        select(Lot.id, Lot.code, Lot.tub_id, Lot.good_until, Certificate.expires_at)
        .join(Certificate, Certificate.serial == Lot.certificate_serial)
        .where(Lot.state == State.CLEARED.value, Lot.good_until.is_not(None))
    ).all()
    for row in rows:
        if row.good_until < row.expires_at:
            kind, title = Kind.INSPECT, f"Look again at {row.code}"
            detail = "Cleared stock that waits: without a clean look by then it may not be sold."
        else:
            kind, title = Kind.DECIDE, f"Decide anew on {row.code}"
            detail = "Its certificate runs out: move it to in_quarantine, look at it and decide."
        yield Work(kind, row.id, row.good_until, title, detail, row.tub_id, (row.id,))
