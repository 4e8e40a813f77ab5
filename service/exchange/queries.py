"""Reading the journal as events, in its order."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import groupby

from sqlalchemy import ColumnElement, and_, select
from sqlalchemy.orm import Session

from service.exchange.rules import Event, events_of, kinds_for
from service.exchange.rules_told import Entry, EventType, LotFact
from service.journal.models import JournalEntry, JournalHead, JournalSubject
from service.lots.models import Lot

NAMES = ("seq", "at", "recorded_at", "kind", "before", "after", "hash")
MOST_ENTRIES = 500  # looked at in one answer: a rare type must not make a request long


@dataclass(frozen=True, order=True)
class Place:
    """A place in the order of events: after event `n` of entry `seq`, or after the whole entry (n None)."""

    seq: int
    n: int | None = None

    def __str__(self) -> str:
        return f"{self.seq}" if self.n is None else f"{self.seq}-{self.n}"


@dataclass(frozen=True)
class Feed:
    """Events in order, the place after them, and whether there may be more already."""

    events: list[Event]
    place: Place
    more: bool


def events_after(session: Session, after: Place, types: frozenset[EventType], limit: int) -> Feed:
    """The next events of these types after a place, at most `limit`.

    Entries get their numbers under the lock of the chain's head, just before they commit: whatever commits
    later has a higher number, so a reader that goes on from a place never misses one. The head is read
    first for the same reason: all that it covers is there for the second read.
    """
    head = session.scalar(select(JournalHead.seq).where(JournalHead.id == 1)) or 0
    since = after.seq if after.n is None else after.seq - 1
    entries = entries_between(session, since, head, kinds_for(types), MOST_ENTRIES)
    found = [
        event
        for event in made_of(session, entries)
        if event.type in types and (event.seq != after.seq or after.n is None or event.n > after.n)
    ]
    cut = found[:limit]
    if len(found) > limit:
        return Feed(cut, Place(cut[-1].seq, cut[-1].n), more=True)
    if len(entries) == MOST_ENTRIES:
        return Feed(cut, Place(entries[-1].seq), more=True)
    return Feed(cut, Place(max(head, after.seq)), more=False)


def owed_after(session: Session, after: int, types: frozenset[EventType], most: int) -> Feed:
    """The events of these types of the next `most` entries at most, never part of an entry."""
    head = session.scalar(select(JournalHead.seq).where(JournalHead.id == 1)) or 0
    entries = entries_between(session, after, head, kinds_for(types), most)
    found = [event for event in made_of(session, entries) if event.type in types]
    more = len(entries) == most
    return Feed(found, Place(entries[-1].seq if more else max(head, after)), more)


def events_of_entries(session: Session, seqs: Collection[int]) -> list[Event]:
    """All events of some entries, in order."""
    return made_of(session, entries_of(session, seqs))


def entries_of(session: Session, seqs: Collection[int]) -> list[Entry]:
    """Entries by their numbers, in order."""
    return _entries(session, JournalEntry.seq.in_(seqs), most=len(seqs)) if seqs else []


def entries_between(
    session: Session, after: int, until: int, kinds: Collection[str], most: int
) -> list[Entry]:
    """Entries of these kinds with numbers above `after` up to `until`, in order, with what they are about."""
    within = and_(JournalEntry.seq > after, JournalEntry.seq <= until, JournalEntry.kind.in_(kinds))
    return _entries(session, within, most)


def made_of(session: Session, entries: Sequence[Entry]) -> list[Event]:
    """The events of entries, in order."""
    lots = lot_facts(session, {lot_id for entry in entries for lot_id in entry.ids("lot")})
    return [event for entry in entries for event in events_of(entry, lots)]


def lot_facts(session: Session, lot_ids: Collection[str]) -> dict[str, LotFact]:
    """What never changes about lots, by id."""
    rows = session.execute(select(Lot.id, Lot.code, Lot.plant_id).where(Lot.id.in_(lot_ids)))
    return {row.id: LotFact(row.code, row.plant_id) for row in rows}


def _about(session: Session, seqs: Sequence[int]) -> dict[int, list[tuple[str, str]]]:
    rows = session.execute(
        select(JournalSubject.seq, JournalSubject.subject_kind, JournalSubject.subject_id)
        .where(JournalSubject.seq.in_(seqs))
        .order_by(JournalSubject.seq, JournalSubject.subject_kind, JournalSubject.subject_id)
    ).all()
    return {seq: [(kind, id_) for _, kind, id_ in group] for seq, group in groupby(rows, lambda row: row[0])}


def _entries(session: Session, chosen: ColumnElement[bool], most: int) -> list[Entry]:
    columns = [getattr(JournalEntry, name) for name in NAMES]
    rows = session.execute(select(*columns).where(chosen).order_by(JournalEntry.seq).limit(most)).all()
    about = _about(session, [row.seq for row in rows])
    return [Entry(**dict(zip(NAMES, row, strict=True)), about=about.get(row.seq, [])) for row in rows]
