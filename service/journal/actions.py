"""Writing the journal: buffered during an act, numbered and chained just before it commits."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import event, insert, select, update
from sqlalchemy.orm import Session, sessionmaker

from service.core.db import Versioned
from service.journal.acts import Act
from service.journal.models import JournalEntry, JournalHead, JournalSubject
from service.journal.rules import chained, entry_hash, plain

BUFFER = "journal"
REACTIONS = "reactions"


@dataclass(frozen=True)
class Note:
    """What reactions are told: the kind of entry, the act, the things it is about, and its facts."""

    kind: str
    act: Act
    about: tuple[Any, ...]
    after: Mapping[str, Any] = field(default_factory=dict)
    before: Mapping[str, Any] = field(default_factory=dict)


Reaction = Callable[[Session, Note], None]


class Unwired(RuntimeError):
    """An act ran on a session without reactions: its consequences would be lost."""


def record(
    session: Session,
    act: Act,
    kind: str,
    about: Sequence[Any],
    *,
    after: Mapping[str, Any] | None = None,
    before: Mapping[str, Any] | None = None,
) -> None:
    """Write one entry about `about` (table rows), raise their versions, and let the rooms above react.

    `kind` is dotted, "lot.received". Reactions run now, in the same transaction; one that
    raises fails the act.
    """
    note = Note(kind, act, tuple(about), after or {}, before or {})
    _buffer(session, [note])
    _react(session, note)


def record_each(session: Session, act: Act, kind: str, told: Sequence[tuple[Any, Mapping[str, Any]]]) -> None:
    """Write one entry about each thing with its facts; else as `record`.

    The rooms above react once, to all of the things together: what they ask the database for is asked for
    all at once. So this is for kinds whose reactions do not read the facts of an entry.
    """
    if told:
        _buffer(session, [Note(kind, act, (thing,), after) for thing, after in told])
        _react(session, Note(kind, act, tuple(thing for thing, _ in told)))


def _buffer(session: Session, notes: Sequence[Note]) -> None:
    for thing in (thing for note in notes for thing in note.about):
        if isinstance(thing, Versioned):
            thing.version = (thing.version or 0) + 1  # a new row has none yet
    session.flush()
    session.info.setdefault(BUFFER, []).extend(notes)


def _react(session: Session, note: Note) -> None:
    if REACTIONS not in session.info:
        raise Unwired("Open sessions through service.wiring, so that consequences follow.")
    for reaction in session.info[REACTIONS].get(note.kind, ()):
        reaction(session, note)


def attach(factory: sessionmaker[Session]) -> None:
    """Seal the buffered entries of every session of `factory` just before it commits."""
    event.listen(factory, "before_commit", seal)
    event.listen(factory, "after_rollback", _drop)


def seal(session: Session) -> None:
    """Give the buffered entries their numbers and hashes; locks the head of the chain, last of all."""
    notes: list[Note] = session.info.get(BUFFER, [])
    if not notes or session.in_nested_transaction():
        return
    session.flush()
    seq, previous = session.execute(
        select(JournalHead.seq, JournalHead.hash).where(JournalHead.id == 1).with_for_update()
    ).one()
    entries, subjects = [], []
    for note in notes:
        seq += 1
        entry = _entry(note)
        about = sorted({(kind_of(thing), id_of(thing)) for thing in note.about})
        previous = entry_hash(previous, chained(seq, entry, about))
        entries.append({"seq": seq, "hash": previous, **entry})
        subjects += [{"seq": seq, "subject_kind": kind, "subject_id": id_} for kind, id_ in about]
    session.execute(insert(JournalEntry), entries)
    if subjects:
        session.execute(insert(JournalSubject), subjects)
    session.execute(update(JournalHead).where(JournalHead.id == 1).values(seq=seq, hash=previous))
    session.info[BUFFER] = []


def kind_of(thing: Any) -> str:
    """The kind of a subject: the name of its table."""
    return str(thing.__tablename__)


def id_of(thing: Any) -> str:
    """The id of a subject: its only key column."""
    return str(thing.id)


def _entry(note: Note) -> dict[str, Any]:
    return {
        "at": note.act.at,
        "recorded_at": note.act.now,
        "by": note.act.by,
        "kind": note.kind,
        "before": plain(note.before),
        "after": plain(note.after),
        "late_reason": note.act.late_reason,
        "request_id": note.act.request_id,
    }


def _drop(session: Session) -> None:
    session.info[BUFFER] = []
