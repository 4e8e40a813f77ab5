"""Due work of trials: the looks that their schedules owe."""

from collections.abc import Iterator
from datetime import datetime

from sqlalchemy.orm import Session

from service.agenda.rules import Kind
from service.agenda.work import Work
from service.trials.owed import owed_looks


def trial_work(session: Session, now: datetime) -> Iterator[Work]:
    """The looks that each open trial owes, those missed since the last one, and the next to come."""
    for look in owed_looks(session, now):
        title = f"Look at trial {look.name}, day {look.day}"
        detail = f"Count and judge {look.units} units of the trial."
        if look.missed:
            detail = f"Nobody entered it in time: enter it with its own moment if it was made. {detail}"
        yield Work(
            Kind.OBSERVE, f"{look.trial_id}/{look.day}", look.due_at, title, detail, None, look.lot_ids
        )
