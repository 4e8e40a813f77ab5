"""R15: the journal has no gap and no fork, and whoever alters it, even owning the database, is found out."""

import random
import threading
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import delete, func, insert, select, text, update
from sqlalchemy.orm import Session

from service.core.db import Database
from service.core.house import house
from service.journal.actions import record
from service.journal.acts import Act
from service.journal.models import JournalEntry, JournalHead, JournalSubject
from service.journal.queries import ChainCheck, check_chain
from service.journal.rules import GENESIS, chained, entry_hash
from tests.soak import figure

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
ENTRIES = 12
TAMPERS = figure(gate=40, full=400)  # of each of five kinds
THREADS, EACH = 8, figure(gate=6, full=50)
FIELDS: dict[str, Callable[[Any], Any]] = {
    "by": lambda value: f"{value}x",
    "kind": lambda value: f"{value}x",
    "at": lambda value: value - timedelta(microseconds=1),
    "recorded_at": lambda value: value + timedelta(microseconds=1),
    "before": lambda value: {**(value or {}), "n": -1},
    "after": lambda value: {**(value or {}), "n": -1},
    "late_reason": lambda value: f"{value or ''}x",
    "request_id": lambda value: f"{value or ''}x",
    "hash": lambda value: value[::-1],
}
Tamper = Callable[[Session, random.Random], None]


def write(database: Database, count: int) -> None:
    for n in range(count):
        with database.writing() as session:
            record(session, Act("ana", NOW, NOW), "house.changed", [house(session)], after={"n": n})


def told(database: Database, by: str) -> None:
    """So many entries about nothing that others would change at the same time."""
    for n in range(EACH):
        with database.writing() as session:
            record(session, Act(by, NOW, NOW), "house.proved", [], after={"n": n})


def edited(session: Session, chance: random.Random) -> None:
    """One field of one entry, or what one entry is about."""
    seq, field = chance.randint(1, last(session)), chance.choice([*FIELDS, "subject"])
    if field == "subject":
        about = update(JournalSubject).where(JournalSubject.seq == seq)
        if not changed(session, about.values(subject_id=f"{chance.random()}")):
            edited(session, chance)
        return
    column = getattr(JournalEntry, field)
    value = FIELDS[field](session.scalar(select(column).where(JournalEntry.seq == seq)))
    changed(session, update(JournalEntry).where(JournalEntry.seq == seq).values({field: value}))


def deleted(session: Session, chance: random.Random) -> None:
    """One entry is gone."""
    drop(session, [chance.randint(1, last(session))])


def swapped(session: Session, chance: random.Random) -> None:
    """Two entries change places; what they say stays."""
    one, other = chance.sample(range(1, last(session) + 1), 2)
    for before, after in ((one, -1), (other, one), (-1, other)):
        session.execute(update(JournalEntry).where(JournalEntry.seq == before).values(seq=after))
        session.execute(update(JournalSubject).where(JournalSubject.seq == before).values(seq=after))


def cut_off(session: Session, chance: random.Random) -> None:
    """The last entries are gone, and the head says so too."""
    keep = chance.randint(1, last(session) - 1)
    drop(session, range(keep + 1, last(session) + 1))
    hash_ = session.scalar(select(JournalEntry.hash).where(JournalEntry.seq == keep))
    session.execute(update(JournalHead).values(seq=keep, hash=hash_))


def chained_anew(session: Session, chance: random.Random) -> None:
    """One entry says something else, and every hash from there on and the head are made to fit."""
    first = chance.randint(1, last(session))
    changed(session, update(JournalEntry).where(JournalEntry.seq == first).values(by="forger"))
    previous = session.scalar(select(JournalEntry.hash).where(JournalEntry.seq == first - 1)) or GENESIS
    for entry in session.scalars(
        select(JournalEntry).where(JournalEntry.seq >= first).order_by(JournalEntry.seq)
    ):
        about = session.execute(
            select(JournalSubject.subject_kind, JournalSubject.subject_id).where(
                JournalSubject.seq == entry.seq
            )
        ).all()
        names = ("at", "recorded_at", "by", "kind", "before", "after", "late_reason", "request_id")
        fields = {name: getattr(entry, name) for name in names}
        entry.hash = previous = entry_hash(
            previous, chained(entry.seq, fields, [(kind, id_) for kind, id_ in about])
        )
    session.flush()
    session.execute(update(JournalHead).values(hash=previous))


def last(session: Session) -> int:
    return session.scalars(select(func.max(JournalEntry.seq))).one()


def changed(session: Session, statement: Any) -> bool:
    return bool(session.connection().execute(statement).rowcount)


def drop(session: Session, seqs: Any) -> None:
    session.execute(delete(JournalSubject).where(JournalSubject.seq.in_(list(seqs))))
    session.execute(delete(JournalEntry).where(JournalEntry.seq.in_(list(seqs))))


def unguarded(session: Session) -> None:
    """Somebody who owns the database switches off what keeps it append-only."""
    if session.get_bind().dialect.name == "postgresql":
        session.execute(text("SET LOCAL session_replication_role = replica"))
        return
    session.execute(text("PRAGMA defer_foreign_keys=ON"))
    for name in session.scalars(
        text("SELECT name FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'journal%'")
    ).all():
        session.execute(text(f"DROP TRIGGER {name}"))


def seen_after(database: Database, tamper: Tamper, chance: random.Random) -> ChainCheck:
    """What the check says after a tampering, which is taken back afterwards."""
    with database.writer() as session:
        unguarded(session)
        tamper(session, chance)
        session.expire_all()
        found = check_chain(session)
        session.rollback()
    return found


@pytest.mark.promise(r=15)
@pytest.mark.soak
@pytest.mark.parametrize("tamper", [edited, deleted, swapped])
def test_what_was_altered_is_found_by_the_chain_alone(database: Database, tamper: Tamper) -> None:
    write(database, ENTRIES)
    chance = random.Random(15)  # noqa: S311  # the same tampers in every run
    for n in range(TAMPERS):
        assert seen_after(database, tamper, chance).broken_at is not None, n


@pytest.mark.promise(r=15)
@pytest.mark.soak
@pytest.mark.parametrize("tamper", [cut_off, chained_anew])
def test_a_chain_made_to_fit_is_found_by_a_head_that_was_kept_elsewhere(
    database: Database, tamper: Tamper
) -> None:
    write(database, ENTRIES)
    with database.reading() as session:
        kept = check_chain(session).head
    chance = random.Random(15)  # noqa: S311  # the same tampers in every run
    for n in range(TAMPERS):
        found = seen_after(database, tamper, chance)
        assert found.broken_at is None  # the database alone cannot tell
        assert found.head != kept, n


@pytest.mark.promise(r=15)
@pytest.mark.soak
def test_many_who_write_at_once_make_one_chain_without_a_gap(database: Database) -> None:
    with database.reading() as session:
        before = check_chain(session).entries
    threads = [threading.Thread(target=told, args=(database, f"hand {n}")) for n in range(THREADS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with database.reading() as session:
        found = check_chain(session)
        numbers = session.scalars(select(JournalEntry.seq).order_by(JournalEntry.seq)).all()
    assert (found.broken_at, found.entries) == (None, before + THREADS * EACH)
    assert list(numbers) == list(range(1, found.entries + 1))


@pytest.mark.promise(r=15)
def test_an_entry_is_neither_changed_nor_deleted_nor_put_in_between(database: Database) -> None:
    write(database, 2)
    for statement in (
        update(JournalEntry).values(by="forger"),
        delete(JournalEntry),
        update(JournalSubject).values(subject_id="2"),
        delete(JournalSubject),
        insert(JournalEntry).from_select(
            list(JournalEntry.__table__.columns.keys()), select(JournalEntry).where(JournalEntry.seq == 1)
        ),
    ):
        with database.writer() as session, pytest.raises(Exception, match=r"(?i)journal|unique|append"):
            session.execute(statement)
