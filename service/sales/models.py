"""Dispatches and reservations: what left the house, and what was promised, to whom."""

from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, Index, String, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId, Text, Versioned

LIVING = text("status IN ('open', 'confirmed')")


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
    registration_number: Mapped[Code | None]  # as it was printed
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


class Reservation(Versioned, Base):
    """Units of cleared lots promised to one order; `open` ones run out, `confirmed` ones do not."""

    __tablename__ = "reservation"
    __table_args__ = (
        CheckConstraint(
            "status IN ('open', 'confirmed', 'fulfilled', 'cancelled', 'expired', 'freed')", name="status"
        ),
        CheckConstraint("(status = 'open') = (expires_at IS NOT NULL)", name="only_open_runs_out"),
        Index("ix_reservation_made", "at", "id"),
        # One living promise an order, whatever runs at once.
        Index("uq_reservation_order", "order_ref", unique=True, sqlite_where=LIVING, postgresql_where=LIVING),
    )

    id: Mapped[NewId]
    order_ref: Mapped[Code]
    customer_ref: Mapped[Text | None]
    asked: Mapped[Any] = mapped_column(JSON)  # as the order asked for it, so that the same again is known
    status: Mapped[str] = mapped_column(String(9))
    expires_at: Mapped[Moment | None]
    at: Mapped[Moment]
    by: Mapped[Code]


class ReservationLine(Base):
    """So many of one lot: owed is what was neither sent nor freed."""

    __tablename__ = "reservation_line"
    __table_args__ = (
        UniqueConstraint("reservation_id", "lot_id"),
        CheckConstraint("quantity > 0 AND sent >= 0 AND freed >= 0", name="quantity"),
        CheckConstraint("sent + freed <= quantity", name="owed"),
        Index("ix_reservation_line_lot", "lot_id"),
    )

    id: Mapped[NewId]
    reservation_id: Mapped[Id] = mapped_column(ForeignKey("reservation.id"))
    lot_id: Mapped[Id] = mapped_column(ForeignKey("lot.id"))
    quantity: Mapped[int]
    sent: Mapped[int] = mapped_column(default=0)
    freed: Mapped[int] = mapped_column(default=0)


class Fulfilment(Base):
    """What a dispatch sent of a promise, so that taking the dispatch back restores the promise."""

    __tablename__ = "fulfilment"
    __table_args__ = (
        UniqueConstraint("dispatch_id", "reservation_line_id"),
        CheckConstraint("quantity > 0", name="quantity"),
        Index("ix_fulfilment_line", "reservation_line_id"),
    )

    id: Mapped[NewId]
    dispatch_id: Mapped[Id] = mapped_column(ForeignKey("dispatch.id"))
    reservation_line_id: Mapped[Id] = mapped_column(ForeignKey("reservation_line.id"))
    quantity: Mapped[int]
