"""The journal's chain: any altered entry is found, and the rules of time."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import delete, func, select, text, update
from sqlalchemy.orm import Session

from service.core.db import Database
from service.core.errors import Invalid
from service.core.house import house
from service.journal import rules
from service.journal.actions import Unwired, record
from service.journal.acts import Act, not_before, open_act
from service.journal.models import JournalEntry, JournalSubject
from service.journal.queries import check_chain

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)


def write(database: Database, count: int) -> None:
    for n in range(count):
        with database.writing() as session:
            record(
                session, Act("ana", NOW, NOW), "house.changed", [house(session)], after={"n": n, "share": 0.1}
            )


def forge(database: Database, change: Callable[[Session], object]) -> None:
    # A forger with the database in his hands switches the triggers off first.
    with database.writing() as session:
        if database.engine.dialect.name == "sqlite":
            for table in ("journal_entry", "journal_subject"):
                for act in ("update", "delete"):
                    session.execute(text(f"DROP TRIGGER IF EXISTS {table}_no_{act}"))
        else:
            session.execute(text("SET LOCAL session_replication_role = replica"))
        change(session)


def _delete_last(session: Session) -> None:
    last = session.scalar(select(func.max(JournalEntry.seq)))
    session.execute(delete(JournalSubject).where(JournalSubject.seq == last))
    session.execute(delete(JournalEntry).where(JournalEntry.seq == last))


def test_an_untouched_chain_is_intact(database: Database) -> None:
    write(database, 3)
    with database.reading() as session:
        found = check_chain(session)
    assert found.broken_at is None


@pytest.mark.parametrize(
    "change",
    [
        lambda s: s.execute(update(JournalEntry).where(JournalEntry.by == "ana").values(by="ben")),
        lambda s: s.execute(update(JournalEntry).where(JournalEntry.by == "ana").values(after={"n": 7})),
        lambda s: s.execute(
            update(JournalEntry).where(JournalEntry.by == "ana").values(at=NOW - timedelta(1))
        ),
        lambda s: s.execute(
            update(JournalSubject).where(JournalSubject.subject_kind == "house").values(subject_id="2")
        ),
        _delete_last,
    ],
    ids=["who", "what", "when", "about what", "last one gone"],
)
def test_an_altered_entry_breaks_it(database: Database, change: Callable[[Session], object]) -> None:
    write(database, 3)
    forge(database, change)
    with database.reading() as session:
        assert check_chain(session).broken_at is not None


def test_the_hash_is_that_of_coreutils() -> None:
    # printf '\\0{"a":"1"}' | sha256sum (GNU coreutils): 0x00, RFC 8785 JSON, an empty previous hash
    assert (
        rules.entry_hash("", {"a": 1}) == "f330fe41f7299401297d86d5e5397a8d293e9194f180108a68a5ccd5a6101ecb"
    )


def test_numbers_are_chained_as_text_so_that_printing_cannot_break_it() -> None:
    assert rules.canonical({"a": [1, 2.5, True, None, "x"]}) == {"a": ["1", "2.5", True, None, "x"]}


@pytest.mark.parametrize(
    ("late_by", "reason", "code"),
    [
        (timedelta(seconds=-61), None, "time-in-future"),
        (timedelta(seconds=-60), None, None),
        (timedelta(hours=24), None, None),
        (timedelta(hours=24, seconds=1), None, "late-reason-missing"),
        (timedelta(hours=24, seconds=1), "written up on Monday", None),
        (timedelta(days=60), "moved house", None),
        (timedelta(days=60, seconds=1), "moved house", "entry-too-late"),
    ],
)
def test_when_something_may_be_entered(late_by: timedelta, reason: str | None, code: str | None) -> None:
    found = rules.judge_time(NOW - late_by, NOW, reason, 60)
    assert [r.code for r in found] == ([code] if code else [])


def test_an_act_of_the_future_names_the_field(session: Session) -> None:
    with pytest.raises(Invalid) as refusal:
        open_act(session, "ana", NOW, NOW + timedelta(hours=1))
    assert refusal.value.reasons[0].pointer == "#/at"


def test_nothing_lies_before_what_it_depends_on() -> None:
    not_before(NOW, NOW, "the receipt")
    with pytest.raises(Invalid, match="before the receipt"):
        not_before(NOW - timedelta(seconds=1), NOW, "the receipt")


@pytest.mark.promise(r=16)
def test_an_act_on_an_unwired_session_fails(database: Database) -> None:
    with database.writer() as session:
        session.info.clear()
        with pytest.raises(Unwired):
            record(session, Act("ana", NOW, NOW), "house.changed", [house(session)])
