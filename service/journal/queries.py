"""Reading the journal: the history of a thing, the audit trail, and the proof of the chain."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from service.journal.models import JournalEntry, JournalHead, JournalSubject
from service.journal.rules import GENESIS, chained, entry_hash

COLUMNS = (
    JournalEntry.seq,
    JournalEntry.at,
    JournalEntry.recorded_at,
    JournalEntry.by,
    JournalEntry.kind,
    JournalEntry.before,
    JournalEntry.after,
    JournalEntry.hash,
)
NAMES = ("seq", "at", "recorded_at", "by", "kind", "before", "after", "hash")


@dataclass(frozen=True)
class ChainCheck:
    """What checking the chain found: how many entries, the head, and the first that is wrong."""

    entries: int
    head: str
    broken_at: int | None


def entries() -> Select[Any]:
    """Every entry, in the columns of a history item."""
    return select(*COLUMNS)


def entries_about(kind: str, thing_id: str) -> Select[Any]:
    """The entries about one thing."""
    return (
        entries()
        .join(JournalSubject, JournalSubject.seq == JournalEntry.seq)
        .where(JournalSubject.subject_kind == kind, JournalSubject.subject_id == thing_id)
    )


def subjects_of(session: Session, seqs: Sequence[int]) -> Mapping[int, list[str]]:
    """For each entry number the things it is about, as "kind/id"; none for an entry about the whole house."""
    rows = session.execute(
        select(JournalSubject.seq, JournalSubject.subject_kind, JournalSubject.subject_id)
        .where(JournalSubject.seq.in_(seqs))
        .order_by(JournalSubject.seq, JournalSubject.subject_kind, JournalSubject.subject_id)
    ).all()
    found = {seq: [f"{kind}/{id_}" for _, kind, id_ in group] for seq, group in groupby(rows, lambda r: r[0])}
    return {seq: found.get(seq, []) for seq in seqs}


def check_chain(session: Session) -> ChainCheck:
    """Recompute every hash; an edited, deleted, swapped or inserted entry breaks the chain."""
    head = session.get_one(JournalHead, 1)
    previous, count = GENESIS, 0
    for entry, about in _all_entries(session):
        count += 1
        fields = {
            name: getattr(entry, name)
            for name in ("at", "recorded_at", "by", "kind", "before", "after", "late_reason", "request_id")
        }
        previous = entry_hash(previous, chained(entry.seq, fields, about))
        if entry.seq != count or entry.hash != previous:
            return ChainCheck(count, head.hash, entry.seq)
    ends_well = head.seq == count and head.hash == previous
    return ChainCheck(count, head.hash, None if ends_well else count + 1)


def _all_entries(session: Session) -> Iterator[tuple[JournalEntry, list[tuple[str, str]]]]:
    after, size = 0, 500
    while chunk := session.scalars(
        select(JournalEntry).where(JournalEntry.seq > after).order_by(JournalEntry.seq).limit(size)
    ).all():
        rows = session.execute(
            select(JournalSubject.seq, JournalSubject.subject_kind, JournalSubject.subject_id)
            .where(JournalSubject.seq.between(chunk[0].seq, chunk[-1].seq))
            .order_by(JournalSubject.seq, JournalSubject.subject_kind, JournalSubject.subject_id)
        ).all()
        about = {seq: [(kind, id_) for _, kind, id_ in group] for seq, group in groupby(rows, lambda r: r[0])}
        yield from ((entry, about.get(entry.seq, [])) for entry in chunk)
        after = chunk[-1].seq
        session.expunge_all()
