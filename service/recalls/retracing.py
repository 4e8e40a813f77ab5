"""Open recalls are traced again when a fact that tracing rests on is entered, not each time one is read."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core.jobs import ReadFirst, outstanding, owe
from service.journal.actions import Note
from service.recalls.models import Recall
from service.recalls.progress import grown

JOB = "retrace_recalls"
TRACED = (
    "lot.received",
    "lot.moved",
    "lot.split",
    "dispatch.returned",
    "tub.changed",
    "tool.used",
    "tool.disinfected",
    "treatment.step_started",
    "stock.drawn",
    "stock.reversed",
    "inspection.voided",
    "recall.started",
    "recall.extended",
)
"""Kinds of entries that may change what is within reach; a recall just started may have missed one."""


def on_traced(session: Session, note: Note) -> None:
    """Reaction: a fact was entered that a way may lead through; open recalls are owed a new trace."""
    if session.scalars(select(Recall.id).where(Recall.closed_at.is_(None)).limit(1)).first() is not None:
        owe(session, JOB, "all", note.act.now)


def newly_within_reach(session: Session, recall: Recall) -> int:
    """How many lots came within reach since: as last traced, or traced now while a new trace is owed."""
    if recall.closed_at is not None:
        return 0
    return len(grown(session, recall)) if outstanding(session, JOB) else recall.newly_within_reach


def _trace(session: Session, _payload: Mapping[str, Any], _now: datetime) -> dict[str, int]:
    opened = session.scalars(select(Recall).where(Recall.closed_at.is_(None)))
    return {recall.id: len(grown(session, recall)) for recall in opened}


def _keep(session: Session, traced: Mapping[str, int], _now: datetime) -> None:
    wanted = select(Recall).where(Recall.id.in_(traced), Recall.closed_at.is_(None)).order_by(Recall.id)
    for recall in session.scalars(wanted.with_for_update()):
        if recall.newly_within_reach != traced[recall.id]:
            recall.newly_within_reach = traced[recall.id]
            recall.version += 1


RETRACE = ReadFirst(_trace, _keep)
"""Job: trace every open recall anew and keep how much came within reach."""
