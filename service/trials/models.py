"""Trials: arms, the tubs and units allocated to them, what was observed, what was adopted."""

from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId, Text, Versioned


class Trial(Versioned, Base):
    """Treatments compared on like units; the seed gives the allocation again."""

    __tablename__ = "trial"
    __table_args__ = (
        CheckConstraint("units_per_arm > 0", name="units"),
        CheckConstraint("days >= 3", name="days"),
        CheckConstraint("(closed_at IS NULL) = (closed_by IS NULL)", name="closed_by"),
        CheckConstraint("(closed_at IS NULL) = (conclusion IS NULL)", name="conclusion"),
        Index("ix_trial_starts_at", "starts_at", "id"),
    )

    id: Mapped[NewId]
    name: Mapped[Code] = mapped_column(unique=True)
    question: Mapped[Text]
    targets: Mapped[Any] = mapped_column(JSON)  # [{"pest", "stage"}]
    seed: Mapped[int]
    blind: Mapped[bool]
    units_per_arm: Mapped[int]  # of each plant
    power: Mapped[Any] = mapped_column(JSON)  # what it was to tell apart; null when nobody said
    starts_at: Mapped[Moment]
    days: Mapped[int]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]
    closed_at: Mapped[Moment | None]
    closed_by: Mapped[Code | None]
    conclusion: Mapped[Text | None]


class TrialArm(Base):
    """One way of treating, or none: the control has no protocol version."""

    __tablename__ = "trial_arm"
    __table_args__ = (UniqueConstraint("trial_id", "code"),)

    id: Mapped[NewId]
    trial_id: Mapped[Id] = mapped_column(ForeignKey("trial.id"))
    place: Mapped[int]
    code: Mapped[Code]
    protocol_version_id: Mapped[Id | None] = mapped_column(ForeignKey("protocol_version.id"))


class TrialTub(Base):
    """A tub of a trial, with the label that observers write."""

    __tablename__ = "trial_tub"
    __table_args__ = (UniqueConstraint("trial_id", "label"), Index("ix_trial_tub_tub", "tub_id"))

    id: Mapped[NewId]
    trial_id: Mapped[Id] = mapped_column(ForeignKey("trial.id"))
    arm_id: Mapped[Id] = mapped_column(ForeignKey("trial_arm.id"))
    tub_id: Mapped[Id] = mapped_column(ForeignKey("tub.id"))
    label: Mapped[Code]


class TrialUnit(Base):
    """One plant unit: which of its source, its label, the lot and tub it was allocated to."""

    __tablename__ = "trial_unit"
    __table_args__ = (UniqueConstraint("trial_id", "label"), Index("ix_trial_unit_lot", "lot_id"))

    id: Mapped[NewId]
    trial_id: Mapped[Id] = mapped_column(ForeignKey("trial.id"))
    trial_tub_id: Mapped[Id] = mapped_column(ForeignKey("trial_tub.id"))
    lot_id: Mapped[Id] = mapped_column(ForeignKey("lot.id"))
    source_lot_id: Mapped[Id] = mapped_column(ForeignKey("lot.id"))
    source_number: Mapped[int]
    label: Mapped[Code]


class TrialObservation(Base):
    """A look at a trial on a day of its schedule; a wrong one is voided, never changed."""

    __tablename__ = "trial_observation"
    __table_args__ = (
        CheckConstraint("day >= 0", name="day"),
        CheckConstraint("(voided_at IS NULL) = (void_reason IS NULL)", name="void"),
        Index("ix_trial_observation_trial", "trial_id", "at", "id"),
    )

    id: Mapped[NewId]
    trial_id: Mapped[Id] = mapped_column(ForeignKey("trial.id"))
    day: Mapped[int]
    at: Mapped[Moment]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]
    observer: Mapped[Code]
    note: Mapped[Text | None]
    told: Mapped[Any] = mapped_column(JSON)  # counts, conditions, hatches, dummies, photos as loaded
    inspections: Mapped[Any] = mapped_column(JSON)  # the ids of the looks that were written with it
    could_know: Mapped[Text | None]  # the arms, though the trial is blind: why
    voided_at: Mapped[Moment | None]
    voided_by: Mapped[Code | None]
    void_reason: Mapped[Text | None]


class TrialAdoption(Base):
    """What was learnt from one arm of a trial: a new version of its protocol, tolerances, development."""

    __tablename__ = "trial_adoption"
    __table_args__ = (UniqueConstraint("trial_id", "arm_id"),)

    id: Mapped[NewId]
    trial_id: Mapped[Id] = mapped_column(ForeignKey("trial.id"))
    arm_id: Mapped[Id] = mapped_column(ForeignKey("trial_arm.id"))
    at: Mapped[Moment]
    by: Mapped[Code]
    reason: Mapped[Text]
    protocol_version_id: Mapped[Id | None] = mapped_column(ForeignKey("protocol_version.id"))
    credits: Mapped[Any] = mapped_column(JSON)
    tolerances: Mapped[Any] = mapped_column(JSON)
    development: Mapped[Any] = mapped_column(JSON)  # of pests' eggs, as the house's own figures
