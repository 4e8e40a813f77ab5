"""Looks, the water they reach, and what they found."""

from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId, Text


class Inspection(Base):
    """A look at a sample of a lot, or at a whole tub; a wrong one is voided, never changed."""

    __tablename__ = "inspection"
    __table_args__ = (
        CheckConstraint("method IN ('eyes', 'strain', 'bait', 'bait_night', 'sealed_cup')", name="method"),
        CheckConstraint("(lot_id IS NULL) <> (tub_id IS NULL)", name="lot_or_tub"),
        CheckConstraint("sample_size >= 0", name="sample_size"),
        CheckConstraint("sample_unit IN ('unit', 'g')", name="sample_unit"),
        CheckConstraint("(voided_at IS NULL) = (void_reason IS NULL)", name="void"),
        Index("ix_inspection_lot", "lot_id", "at"),
        Index("ix_inspection_tub", "tub_id", "at"),
        Index("ix_inspection_at", "at", "id"),
    )

    id: Mapped[NewId]
    lot_id: Mapped[Id | None] = mapped_column(ForeignKey("lot.id"))
    tub_id: Mapped[Id | None] = mapped_column(ForeignKey("tub.id"))
    at: Mapped[Moment]
    method: Mapped[str] = mapped_column(String(10))
    sample_size: Mapped[int]
    sample_unit: Mapped[str] = mapped_column(String(4), default="unit")
    lot_size: Mapped[int | None]  # units there were at the look; None where they cannot be counted
    strata: Mapped[Any] = mapped_column(JSON, default=list, server_default="[]")  # name, looked_at
    full: Mapped[bool] = mapped_column(default=False)
    clean: Mapped[bool]
    inspector: Mapped[Code]
    note: Mapped[Text | None]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]
    voided_at: Mapped[Moment | None]
    voided_by: Mapped[Code | None]
    void_reason: Mapped[Text | None]


class InspectedWater(Base):
    """The tubs whose water was one with what was looked at, as it was then; `whole`: looked at as a whole."""

    __tablename__ = "inspected_water"
    __table_args__ = (Index("ix_inspected_water_tub", "tub_id"),)

    inspection_id: Mapped[Id] = mapped_column(ForeignKey("inspection.id"), primary_key=True)
    tub_id: Mapped[Id] = mapped_column(ForeignKey("tub.id"), primary_key=True)
    whole: Mapped[bool]


class Finding(Base):
    """A pest found at a look."""

    __tablename__ = "finding"
    __table_args__ = (
        CheckConstraint("stage IN ('egg', 'hatchling', 'juvenile', 'adult')", name="stage"),
        CheckConstraint("live >= 0 AND dead >= 0 AND live + dead > 0", name="counted"),
        Index("ix_finding_inspection", "inspection_id"),
    )

    id: Mapped[NewId]
    inspection_id: Mapped[Id] = mapped_column(ForeignKey("inspection.id"))
    pest: Mapped[Code]
    stage: Mapped[str] = mapped_column(String(10))
    live: Mapped[int]
    dead: Mapped[int]
    removed: Mapped[bool]
