"""Dispatches: what left the house, to whom."""

from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId, Text, Versioned


class Dispatch(Versioned, Base):
    """Plants sent to one customer order; a mistake is reversed, never edited."""

    __tablename__ = "dispatch"
    __table_args__ = (
        CheckConstraint("(reversed_at IS NULL) = (reversal_reason IS NULL)", name="reversal"),
        Index("ix_dispatch_at", "at", "id"),
        Index("ix_dispatch_order_ref", "order_ref"),
    )

    id: Mapped[NewId]
    order_ref: Mapped[Code]
    customer_ref: Mapped[Text | None]
    at: Mapped[Moment]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]
    pack_check: Mapped[Any] = mapped_column(JSON)
    reversed_at: Mapped[Moment | None]
    reversal_reason: Mapped[Text | None]


class DispatchLine(Base):
    """So many of one lot."""

    __tablename__ = "dispatch_line"
    __table_args__ = (
        UniqueConstraint("dispatch_id", "n"),
        CheckConstraint("quantity > 0", name="quantity"),
        Index("ix_dispatch_line_lot", "lot_id"),
    )

    id: Mapped[NewId]
    dispatch_id: Mapped[Id] = mapped_column(ForeignKey("dispatch.id"))
    n: Mapped[int]
    lot_id: Mapped[Id] = mapped_column(ForeignKey("lot.id"))
    quantity: Mapped[int]
