"""The journal's tables: entries, the subjects each touches, and the head of the chain."""

from typing import Any

from sqlalchemy import JSON, BigInteger, CheckConstraint, ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Moment, Text


class JournalEntry(Base):
    """One thing that happened; never changed, never deleted (triggers refuse it)."""

    __tablename__ = "journal_entry"

    seq: Mapped[int] = mapped_column(BigInteger, primary_key=True, autoincrement=False)
    at: Mapped[Moment]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]
    kind: Mapped[Code]
    before: Mapped[Any] = mapped_column(JSON)
    after: Mapped[Any] = mapped_column(JSON)
    late_reason: Mapped[Text | None]
    request_id: Mapped[str | None] = mapped_column(String(36))
    hash: Mapped[str] = mapped_column(String(64))


class JournalSubject(Base):
    """A thing that an entry is about."""

    __tablename__ = "journal_subject"
    __table_args__ = (Index("ix_journal_subject_thing", "subject_kind", "subject_id", "seq"),)

    seq: Mapped[int] = mapped_column(BigInteger, ForeignKey("journal_entry.seq"), primary_key=True)
    subject_kind: Mapped[str] = mapped_column(String(40), primary_key=True)
    subject_id: Mapped[str] = mapped_column(String(80), primary_key=True)


class JournalHead(Base):
    """The last entry of the chain; locked last by every act."""

    __tablename__ = "journal_head"
    __table_args__ = (CheckConstraint("id = 1", name="single"),)

    id: Mapped[int] = mapped_column(primary_key=True, default=1, autoincrement=False)
    seq: Mapped[int] = mapped_column(BigInteger)
    hash: Mapped[str] = mapped_column(String(64))
