"""Treatments with their timed steps, and baths that serve several lots in turn."""

from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId, Text, Versioned


class Treatment(Versioned, Base):
    """A protocol version carried out on lots in a tub."""

    __tablename__ = "treatment"
    __table_args__ = (
        CheckConstraint("state IN ('planned', 'running', 'finished', 'abandoned')", name="state"),
        CheckConstraint("(state IN ('finished', 'abandoned')) = (ended_at IS NOT NULL)", name="ended"),
        CheckConstraint("water_volume_l > 0", name="volume"),
        Index("ix_treatment_state", "state", "id"),
        Index("ix_treatment_tub", "tub_id", "state"),
    )

    id: Mapped[NewId]
    protocol_version_id: Mapped[Id] = mapped_column(ForeignKey("protocol_version.id"))
    tub_id: Mapped[Id] = mapped_column(ForeignKey("tub.id"))
    water_volume_l: Mapped[float]
    state: Mapped[str] = mapped_column(String(9))
    planned_at: Mapped[Moment]
    started_at: Mapped[Moment | None]
    ended_at: Mapped[Moment | None]
    departure: Mapped[Text | None]
    override_reason: Mapped[Text | None]
    override_by: Mapped[Code | None]
    trial_stems_reason: Mapped[Text | None]
    survived_here: Mapped[int | None]  # plants of the kind that the method left alive here before
    by: Mapped[Code]


class TreatmentLot(Base):
    """A lot of a treatment; the lots of one treatment share water by intent."""

    __tablename__ = "treatment_lot"
    __table_args__ = (Index("ix_treatment_lot_lot", "lot_id", "treatment_id"),)

    treatment_id: Mapped[Id] = mapped_column(ForeignKey("treatment.id"), primary_key=True)
    lot_id: Mapped[Id] = mapped_column(ForeignKey("lot.id"), primary_key=True)
    came_from: Mapped[str] = mapped_column(String(13))  # the state to go back to when nothing was started


class TreatmentStep(Base):
    """One timed step; its mixing sheet is frozen when it starts, what was poured is kept."""

    __tablename__ = "treatment_step"
    __table_args__ = (
        CheckConstraint("state IN ('open', 'running', 'done')", name="state"),
        CheckConstraint("(state = 'open') = (started_at IS NULL)", name="started"),
        CheckConstraint("(state = 'done') = (finished_at IS NOT NULL)", name="finished"),
        Index("ix_treatment_step_running", "state", "due_at"),
    )

    treatment_id: Mapped[Id] = mapped_column(ForeignKey("treatment.id"), primary_key=True)
    n: Mapped[int] = mapped_column(primary_key=True)
    kind: Mapped[str] = mapped_column(String(10))
    substance: Mapped[Code | None]  # what it puts into the water
    state: Mapped[str] = mapped_column(String(7))
    due_at: Mapped[Moment | None]
    started_at: Mapped[Moment | None]
    finished_at: Mapped[Moment | None]
    departure: Mapped[Text | None]
    sheet: Mapped[Any] = mapped_column(JSON)
    poured: Mapped[Any] = mapped_column(JSON)
    bath_id: Mapped[Id | None] = mapped_column(ForeignKey("bath.id"))


class Bath(Versioned, Base):
    """One mixed bath for several lots in turn."""

    __tablename__ = "bath"
    __table_args__ = (CheckConstraint("volume_l > 0", name="volume"),)

    id: Mapped[NewId]
    protocol_version_id: Mapped[Id] = mapped_column(ForeignKey("protocol_version.id"))
    step_n: Mapped[int]
    volume_l: Mapped[float]
    mixed_at: Mapped[Moment]
    discard_at: Mapped[Moment]
    discarded_at: Mapped[Moment | None]
    discard_reason: Mapped[Text | None]
    plant_load_limit: Mapped[int | None]  # plants, over all lots
    target_mg_per_l: Mapped[float] = mapped_column(server_default="0")
    mixed_mg_per_l: Mapped[float] = mapped_column(server_default="0")  # by what was poured
    sheet: Mapped[Any] = mapped_column(JSON)
    poured: Mapped[Any] = mapped_column(JSON, server_default="[]")
    by: Mapped[Code]


class BathReading(Base):
    """What a test kit read in a bath."""

    __tablename__ = "bath_reading"
    __table_args__ = (
        CheckConstraint("mg_per_l >= 0", name="mg_per_l"),
        Index("ix_bath_reading_bath", "bath_id", "at"),
    )

    id: Mapped[NewId]
    bath_id: Mapped[Id] = mapped_column(ForeignKey("bath.id"))
    at: Mapped[Moment]
    mg_per_l: Mapped[float]
    kit: Mapped[Text]
    by: Mapped[Code]
