"""Webhooks and the marks of what was delivered to them; the order of events is that of the journal."""

from typing import Any

from sqlalchemy import JSON, BigInteger, CheckConstraint, ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId, Text, Versioned


class Webhook(Versioned, Base):
    """An address of another system that events are sent to. Its secret is derived, never kept.

    `through` is the last entry of the journal whose events are owed to it or were of no interest. The lease
    makes one worker its postman at a time.
    """

    __tablename__ = "webhook"
    __table_args__ = (
        CheckConstraint("(ended_at IS NULL) = (end_reason IS NULL)", name="ended"),
        CheckConstraint("generation >= 1", name="generation"),
    )

    id: Mapped[NewId]
    name: Mapped[Code]
    url: Mapped[Text]
    types: Mapped[Any] = mapped_column(JSON)  # none: all
    generation: Mapped[int] = mapped_column(default=1)  # of its secret
    former_until: Mapped[Moment | None]  # until then the secret before signs as well
    through: Mapped[int] = mapped_column(BigInteger)
    created_at: Mapped[Moment]
    created_by: Mapped[Code]
    ended_at: Mapped[Moment | None]
    end_reason: Mapped[str | None] = mapped_column(String(10))  # removed, gone
    paused_until: Mapped[Moment | None]  # it asked for time, or did not answer
    lease_token: Mapped[str | None] = mapped_column(String(36))
    lease_until: Mapped[Moment | None]


class Delivery(Base):
    """One event owed to one webhook."""

    __tablename__ = "webhook_delivery"
    __table_args__ = (
        CheckConstraint("state IN ('waiting', 'delivered', 'parked')", name="state"),
        CheckConstraint("(state = 'delivered') = (delivered_at IS NOT NULL)", name="delivered"),
        UniqueConstraint("webhook_id", "seq", "n"),
        Index("ix_webhook_delivery_state", "webhook_id", "state", "subject", "seq", "n"),
    )

    id: Mapped[NewId]
    webhook_id: Mapped[Id] = mapped_column(ForeignKey("webhook.id"))
    seq: Mapped[int] = mapped_column(BigInteger)
    n: Mapped[int]
    event_id: Mapped[str] = mapped_column(String(36))
    type: Mapped[Code]
    subject: Mapped[Code]
    state: Mapped[str] = mapped_column(String(9), default="waiting")
    attempts: Mapped[int] = mapped_column(default=0)
    due_at: Mapped[Moment]
    created_at: Mapped[Moment]
    tried_at: Mapped[Moment | None]
    delivered_at: Mapped[Moment | None]
    last_status: Mapped[int | None]
    last_error: Mapped[Text | None]


class OverdueWork(Base):
    """Due work that was told to be overdue; the id is that of the work (agenda), so it is told once."""

    __tablename__ = "overdue_work"

    id: Mapped[str] = mapped_column(String(36), primary_key=True)
    told_at: Mapped[Moment]
