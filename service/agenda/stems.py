"""Due work of trial stems: the days on which they are judged."""

from collections.abc import Iterator

from sqlalchemy.orm import Session

from service.agenda.rules import Kind
from service.agenda.work import Work
from service.treatments.rules_stems import days_owed, due_at
from service.treatments.stem_queries import waiting


def stem_work(session: Session) -> Iterator[Work]:
    """The next look at each trial of stems whose lot still waits for it."""
    for trial, lot, tried in waiting(session):
        due = due_at(tried)
        if due is not None:  # told by the query, not by its type
            title = f"Judge the trial stems of {lot.code}, day {days_owed(tried)[0]}"
            detail = f"{tried.stems} were tried: count how many live."
            yield Work(Kind.STEMS, trial.id, due, title, detail, lot.tub_id, (lot.id,))
