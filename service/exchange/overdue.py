"""The journal takes note of work that is overdue, once for each piece, so that other systems can be told."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.agenda.queries import due_work
from service.core import jobs
from service.exchange.models import OverdueWork
from service.journal.actions import record
from service.journal.acts import Act

JOB = "note_overdue"
AGAIN = timedelta(minutes=5)
BY = "timetable"


def _overdue(session: Session, payload: Mapping[str, Any], now: datetime) -> list[dict[str, Any]]:
    work = [found for found in due_work(session, now, until=now) if found["overdue"]]
    known = set(session.scalars(select(OverdueWork.id).where(OverdueWork.id.in_([w["id"] for w in work]))))
    return [found for found in work if found["id"] not in known]


def _note(session: Session, found: Sequence[Mapping[str, Any]], now: datetime) -> None:
    jobs.owe(session, JOB, JOB, now + AGAIN)  # one chain of looks, whoever began it
    for work in found:
        if session.get(OverdueWork, work["id"]) is None:  # another worker looked at the same moment
            told = OverdueWork(id=work["id"], told_at=now)
            session.add(told)
            record(session, Act(BY, now, now), "work.overdue", [told], after=_facts(work))


def _facts(work: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "kind": work["kind"],
        "due_at": work["due_at"],
        "lot_ids": [lot["id"] for lot in work["lots"]],
        "tub_id": work["tub"]["id"] if work["tub"] else None,
        "treatment_id": work["treatment_id"],
    }


NOTE_OVERDUE = jobs.ReadFirst(_overdue, _note)
