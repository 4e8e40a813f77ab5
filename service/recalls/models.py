"""Recalls, the lots within their reach, and the customers told."""

from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, Index, String, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId, Text, Versioned

OPEN = text("closed_at IS NULL")


class Recall(Versioned, Base):
    """Everything within reach of one thing is stopped and looked at, and its customers are told."""

    __tablename__ = "recall"
    __table_args__ = (
        CheckConstraint("origin IN ('lot', 'find', 'complaint', 'batch', 'supplier')", name="origin"),
        CheckConstraint("(closed_at IS NULL) = (closed_by IS NULL)", name="closed_by"),
        CheckConstraint("(closed_at IS NULL) = (conclusion IS NULL)", name="conclusion"),
        Index(
            "uq_recall_open",
            "origin",
            "origin_id",
            unique=True,
            sqlite_where=OPEN,
            postgresql_where=OPEN,
        ),
        Index("ix_recall_at", "at", "id"),
    )

    id: Mapped[NewId]
    origin: Mapped[str] = mapped_column(String(10))
    origin_id: Mapped[Id]  # no key: a lot, a look, a batch or a supplier
    since: Mapped[Moment | None]  # followed from then on; None: from the beginning
    reason: Mapped[Text]
    at: Mapped[Moment]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]
    closed_at: Mapped[Moment | None]
    closed_by: Mapped[Code | None]
    conclusion: Mapped[Text | None]


class RecallLot(Base):
    """A lot within reach: when it was reached, by which way, and its hold (none when nothing was left)."""

    __tablename__ = "recall_lot"
    __table_args__ = (Index("ix_recall_lot_lot", "lot_id"),)

    recall_id: Mapped[Id] = mapped_column(ForeignKey("recall.id"), primary_key=True)
    lot_id: Mapped[Id] = mapped_column(ForeignKey("lot.id"), primary_key=True)
    reached_at: Mapped[Moment]
    path: Mapped[Any] = mapped_column(JSON)  # as it was told then
    hold_id: Mapped[Id | None] = mapped_column(ForeignKey("hold.id"))
    revoked_serial: Mapped[str | None] = mapped_column(String(26))


class RecallNotice(Base):
    """The customer of a dispatch was told of a recall."""

    __tablename__ = "recall_notice"
    __table_args__ = (
        UniqueConstraint("recall_id", "dispatch_id"),
        CheckConstraint("way IN ('phone', 'mail', 'letter', 'in_person')", name="way"),
    )

    id: Mapped[NewId]
    recall_id: Mapped[Id] = mapped_column(ForeignKey("recall.id"))
    dispatch_id: Mapped[Id] = mapped_column(ForeignKey("dispatch.id"))
    way: Mapped[str] = mapped_column(String(9))
    note: Mapped[Text | None]
    at: Mapped[Moment]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]
