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
    """A look at a trial that is due, comes next, or was missed and not made up for by a later one."""

    trial_id: str
    name: str
    day: int
    due_at: datetime
    units: int
    lot_ids: tuple[str, ...]
    missed: bool


def owed_looks(session: Session, now: datetime) -> Iterator[OwedLook]:
    """What each open trial owes: looks missed since the last one, the look that is due, the next to come."""
    for trial in session.scalars(select(Trial).where(Trial.closed_at.is_(None)).order_by(Trial.id)).all():
        layout = layout_of(session, trial.id)
        scheduled = schedule_of(trial, observations_of(session, trial.id), now)
        seen = max((look.day for look in scheduled if look.observed_at is not None), default=-1)
        missed = [look for look in scheduled if look.state is When.MISSED and look.day > seen]
        due = [look for look in scheduled if look.state is When.DUE]
        coming = [look for look in scheduled if look.state is When.TO_COME][:1]
        for look in (*missed, *due, *coming):
            yield OwedLook(
                trial.id,
                trial.name,
                look.day,
                look.due_at,
                len(layout.units),
                tuple(layout.lot_ids),
                look.state is When.MISSED,
            )
