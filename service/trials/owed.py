"""The looks that open trials owe."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.trials.models import Trial
from service.trials.queries import layout_of, observations_of, schedule_of
from service.trials.rules import When


@dataclass(frozen=True)
class OwedLook:
    """A look at a trial that is due, or comes next."""

    trial_id: str
    name: str
    day: int
    due_at: datetime
    units: int
    lot_ids: tuple[str, ...]


def owed_looks(session: Session, now: datetime) -> Iterator[OwedLook]:
    """What each open trial owes: the look that is due, and the next to come; the missed show in the trial."""
    for trial in session.scalars(select(Trial).where(Trial.closed_at.is_(None)).order_by(Trial.id)).all():
        layout = layout_of(session, trial.id)
        scheduled = schedule_of(trial, observations_of(session, trial.id), now)
        due = [look for look in scheduled if look.state is When.DUE]
        coming = [look for look in scheduled if look.state is When.TO_COME][:1]
        for look in (*due, *coming):
            yield OwedLook(
                trial.id, trial.name, look.day, look.due_at, len(layout.units), tuple(layout.lot_ids)
            )
