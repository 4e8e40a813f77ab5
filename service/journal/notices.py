"""What holds of a thing for a while is noted once when it begins and once when it is over."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.journal.actions import id_of, kind_of, record
from service.journal.acts import Act
from service.journal.models import JournalEntry, JournalSubject

BY = "timetable"


@dataclass(frozen=True)
class Condition:
    """The kinds of the entries that note its beginning and its end."""

    begun: str
    over: str

    @property
    def kinds(self) -> list[str]:
        """Both kinds of entries."""
        return [self.begun, self.over]


@dataclass(frozen=True)
class Finding:
    """What was found of a thing: whether the condition holds, and the facts to note with it."""

    thing: Any
    holds: bool
    after: Mapping[str, Any]


@dataclass(frozen=True)
class Noted:
    """When a condition that still holds was noted, and the facts noted with it."""

    at: datetime
    after: Mapping[str, Any]


def note(session: Session, now: datetime, found: Mapping[Condition, Sequence[Finding]]) -> None:
    """Write an entry for every thing of one table of which one of the conditions has begun or is over.

    The things are locked, in the order of their ids, before it is looked up what was noted: of two jobs at
    once only the first writes.
    """
    changed = {condition: _unnoted(session, condition, findings) for condition, findings in found.items()}
    things = {id_of(finding.thing): finding.thing for findings in changed.values() for finding in findings}
    for id_ in sorted(things):
        session.refresh(things[id_], with_for_update=True)
    for condition, findings in changed.items():
        for finding in _unnoted(session, condition, findings):
            kind = condition.begun if finding.holds else condition.over
            record(session, Act(BY, now, now), kind, [finding.thing], after=finding.after)


def standing(
    session: Session, condition: Condition, subject_kind: str, ids: Collection[str] | None = None
) -> dict[str, Noted]:
    """The things of a table of which the condition was noted and not its end, by id; all or some of them."""
    chosen = [JournalSubject.subject_kind == subject_kind, JournalEntry.kind.in_(condition.kinds)]
    if ids is not None:
        chosen.append(JournalSubject.subject_id.in_(ids))
    rows = session.execute(
        select(JournalSubject.subject_id, JournalEntry.kind, JournalEntry.at, JournalEntry.after)
        .join(JournalEntry, JournalEntry.seq == JournalSubject.seq)
        .where(*chosen)
        .order_by(JournalEntry.seq)
    ).all()
    last = {row.subject_id: row for row in rows}
    return {id_: Noted(row.at, row.after) for id_, row in last.items() if row.kind == condition.begun}


def _unnoted(session: Session, condition: Condition, findings: Sequence[Finding]) -> list[Finding]:
    if not findings:
        return []
    ids = {id_of(finding.thing) for finding in findings}
    noted = standing(session, condition, kind_of(findings[0].thing), ids)
    return [finding for finding in findings if finding.holds != (id_of(finding.thing) in noted)]
