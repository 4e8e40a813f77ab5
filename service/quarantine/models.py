"""Policies and escapes: what must be shown, and what was not seen. Waiting needs them here."""

from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId


class Policy(Base):
    """A version of the thresholds for clearance; never changed once written."""

    __tablename__ = "policy"
    __table_args__ = (UniqueConstraint("code", "number"),)

    id: Mapped[NewId]
    code: Mapped[Code]
    number: Mapped[int]
    content: Mapped[Any] = mapped_column(JSON)  # the dataclass service.reference.policies.Policy
    reference_version: Mapped[Code | None]
    created_at: Mapped[Moment]


class Escape(Base):
    """A customer found a pest of ours in cleared plants; `arrived_as` is the lot they came in."""

    __tablename__ = "escape"
    __table_args__ = (
        UniqueConstraint("complaint_id", "lot_id"),
        Index("ix_escape_arrived_as", "arrived_as"),
        Index("ix_escape_pest", "pest"),
    )

    id: Mapped[NewId]
    complaint_id: Mapped[Id]  # no key: complaints lie above
    lot_id: Mapped[Id] = mapped_column(ForeignKey("lot.id"))
    arrived_as: Mapped[Id] = mapped_column(ForeignKey("lot.id"))
    pest: Mapped[Code]
    at: Mapped[Moment]
    recorded_at: Mapped[Moment]
