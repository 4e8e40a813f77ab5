"""Recalls, the lots within their reach, the customers told, and what customers complained of."""

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
    origin_id: Mapped[Id]  # no key: a lot, a look, a complaint, a batch or a supplier
    since: Mapped[Moment | None]  # followed from then on; None: from the beginning
    reason: Mapped[Text]
    at: Mapped[Moment]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]
    closed_at: Mapped[Moment | None]
    closed_by: Mapped[Code | None]
    conclusion: Mapped[Text | None]
    newly_within_reach: Mapped[int] = mapped_column(default=0)  # lots, by the last trace


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


class Complaint(Versioned, Base):
    """What a customer found, against a dispatch or a certificate; judged once."""

    __tablename__ = "complaint"
    __table_args__ = (
        CheckConstraint("(dispatch_id IS NULL) <> (certificate_id IS NULL)", name="against_one"),
        CheckConstraint("verdict IN ('ours', 'not_ours', 'unknown')", name="verdict"),
        CheckConstraint("settlement IN ('none', 'refund', 'replace', 'credit')", name="settlement"),
        CheckConstraint("(verdict IS NULL) = (judged_at IS NULL)", name="judged"),
        CheckConstraint("days_since_delivery >= 0", name="days"),
        CheckConstraint("size_mm > 0", name="size"),
        Index("ix_complaint_at", "at", "id"),
    )

    id: Mapped[NewId]
    dispatch_id: Mapped[Id | None] = mapped_column(ForeignKey("dispatch.id"))
    certificate_id: Mapped[Id | None] = mapped_column(ForeignKey("certificate.id"))
    what: Mapped[Text]
    pest: Mapped[Code | None]
    size_mm: Mapped[float | None]
    days_since_delivery: Mapped[int | None]
    photo: Mapped[bool]
    other_new_plants: Mapped[bool | None]  # others came into that tank in the eight weeks before
    at: Mapped[Moment]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]
    verdict: Mapped[str | None] = mapped_column(String(8))
    settlement: Mapped[str | None] = mapped_column(String(7))
    claim_on_supplier: Mapped[bool | None]
    judged_at: Mapped[Moment | None]
    judged_by: Mapped[Code | None]
    verdict_reason: Mapped[Text | None]


class ComplaintLot(Base):
    """A lot complained of, and its hold (none when nothing was left)."""

    __tablename__ = "complaint_lot"
    __table_args__ = (Index("ix_complaint_lot_lot", "lot_id"),)

    complaint_id: Mapped[Id] = mapped_column(ForeignKey("complaint.id"), primary_key=True)
    lot_id: Mapped[Id] = mapped_column(ForeignKey("lot.id"), primary_key=True)
    hold_id: Mapped[Id | None] = mapped_column(ForeignKey("hold.id"))
