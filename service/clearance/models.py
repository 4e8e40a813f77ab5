"""Decisions and certificates."""

from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, Index, String, text
from sqlalchemy import Text as Unbounded
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId, Text, Versioned

LIVING = text("status = 'valid' AND dispatch_id IS NULL")
LIVING_PARCEL = text("status = 'valid' AND dispatch_id IS NOT NULL")
OPEN = text("outcome IS NULL")


class Clearance(Base):
    """The decision that a lot may be sold: every gate with what was needed and there."""

    __tablename__ = "clearance"
    __table_args__ = (Index("ix_clearance_lot", "lot_id", "at"),)

    id: Mapped[NewId]
    lot_id: Mapped[Id] = mapped_column(ForeignKey("lot.id"))
    at: Mapped[Moment]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]
    gates: Mapped[Any] = mapped_column(JSON)
    policy: Mapped[Code]
    policy_version: Mapped[int]
    rules_version: Mapped[Code]
    reference_version: Mapped[Code]
    overrides: Mapped[Any] = mapped_column(JSON, default=list)  # rules_decision.Override, each used
    proposed_by: Mapped[Code | None]  # under a four-eyes policy: the first person; `by` confirmed


class ClearanceInputs(Base):
    """What the gates of a decision were judged by; apart from it, for a log of weeks is long."""

    __tablename__ = "clearance_inputs"

    clearance_id: Mapped[Id] = mapped_column(ForeignKey("clearance.id"), primary_key=True)
    content: Mapped[Any] = mapped_column(JSON)  # rules_replay.Inputs


class ClearanceProposal(Base):
    """The first of two people under a four-eyes policy; open until confirmed or overtaken."""

    __tablename__ = "clearance_proposal"
    __table_args__ = (
        CheckConstraint("outcome IN ('confirmed', 'overtaken')", name="outcome"),
        Index(
            "uq_clearance_proposal_open",
            "lot_id",
            unique=True,
            sqlite_where=OPEN,
            postgresql_where=OPEN,
        ),
    )

    id: Mapped[NewId]
    lot_id: Mapped[Id] = mapped_column(ForeignKey("lot.id"))
    at: Mapped[Moment]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]
    policy: Mapped[Code]
    overrides: Mapped[Any] = mapped_column(JSON)
    outcome: Mapped[str | None] = mapped_column(String(10))


class Certificate(Versioned, Base):
    """A signed statement of a clearance; at most one of a lot, and one of each parcel of it, is living."""

    __tablename__ = "certificate"
    __table_args__ = (
        CheckConstraint("status IN ('valid', 'revoked', 'superseded')", name="status"),
        CheckConstraint("(status = 'valid') = (ended_at IS NULL)", name="ended"),
        Index(
            "uq_certificate_living",
            "lot_id",
            unique=True,
            sqlite_where=LIVING,
            postgresql_where=LIVING,
        ),
        Index(
            "uq_certificate_living_parcel",
            "lot_id",
            "dispatch_id",
            unique=True,
            sqlite_where=LIVING_PARCEL,
            postgresql_where=LIVING_PARCEL,
        ),
        Index("ix_certificate_issued_at", "issued_at", "id"),
    )

    id: Mapped[NewId]
    serial: Mapped[str] = mapped_column(String(26), unique=True)
    clearance_id: Mapped[Id] = mapped_column(ForeignKey("clearance.id"))
    lot_id: Mapped[Id] = mapped_column(ForeignKey("lot.id"))
    lot_code: Mapped[Code]
    quantity: Mapped[int]
    unit_of_sale: Mapped[str] = mapped_column(String(10))
    dispatch_id: Mapped[Id | None]  # of a parcel; no foreign key, for dispatches belong to a room above
    status: Mapped[str] = mapped_column(String(10))
    issued_at: Mapped[Moment]
    expires_at: Mapped[Moment]
    ended_at: Mapped[Moment | None]
    end_reason: Mapped[Text | None]
    superseded_by: Mapped[str | None] = mapped_column(String(26))  # a serial
    jws: Mapped[str] = mapped_column(Unbounded())


class MissedCheck(Base):
    """A number was asked for at the public check that is none; kept for a quarter of an hour."""

    __tablename__ = "missed_check"
    __table_args__ = (Index("ix_missed_check_place", "place", "at"), Index("ix_missed_check_at", "at"))

    id: Mapped[NewId]
    place: Mapped[Code]
    at: Mapped[Moment]
