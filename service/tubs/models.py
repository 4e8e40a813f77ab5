"""Tubs and what happens to their water: systems, temperatures, changes, readings, tools."""

from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, Index, String, text
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId, Text, Versioned

VALID = text("voided_at IS NULL")


class WaterSystem(Versioned, Base):
    """A filter, pump or drain line that several tubs share: their water is one."""

    __tablename__ = "water_system"

    id: Mapped[NewId]
    name: Mapped[Text] = mapped_column(unique=True)
    created_at: Mapped[Moment]


class Tub(Versioned, Base):
    """A container of water."""

    __tablename__ = "tub"
    __table_args__ = (CheckConstraint("volume_l > 0", name="volume_positive"),)

    id: Mapped[NewId]
    code: Mapped[Code] = mapped_column(unique=True)
    place: Mapped[Text | None]
    volume_l: Mapped[float]
    set_point_c: Mapped[float | None]
    water_system_id: Mapped[Id | None] = mapped_column(ForeignKey("water_system.id"))
    filling_since: Mapped[Moment | None]  # first lot in of the present filling: all in, all out
    active: Mapped[bool] = mapped_column(default=True)
    created_at: Mapped[Moment]


class FormerWater(Base):
    """Up to a moment a tub was part of this water system (None: alone); what it is now stands in `tub`."""

    __tablename__ = "former_water"
    __table_args__ = (
        Index("ix_former_water_tub", "tub_id", "until"),
        Index("ix_former_water_system", "water_system_id"),
    )

    id: Mapped[NewId]
    tub_id: Mapped[Id] = mapped_column(ForeignKey("tub.id"))
    water_system_id: Mapped[Id | None] = mapped_column(ForeignKey("water_system.id"))
    until: Mapped[Moment]


class TemperatureReading(Base):
    """The water's temperature at one moment; a wrong one is voided, never changed."""

    __tablename__ = "temperature_reading"
    __table_args__ = (
        Index(
            "uq_temperature_reading_valid",
            "tub_id",
            "at",
            unique=True,
            sqlite_where=VALID,
            postgresql_where=VALID,
        ),
        CheckConstraint("celsius BETWEEN -1 AND 45", name="plausible"),
    )

    id: Mapped[NewId]
    tub_id: Mapped[Id] = mapped_column(ForeignKey("tub.id"))
    at: Mapped[Moment]
    celsius: Mapped[float]
    entered: Mapped[Any] = mapped_column(JSON)  # value and unit as typed
    recorded_at: Mapped[Moment]
    by: Mapped[Code]
    voided_at: Mapped[Moment | None]
    void_reason: Mapped[Text | None]


class WaterChange(Base):
    """A share of the water replaced; re-doses are drawn by treatments."""

    __tablename__ = "water_change"
    __table_args__ = (
        CheckConstraint("fraction > 0 AND fraction <= 1", name="fraction"),
        Index("ix_water_change_tub", "tub_id", "at"),
    )

    id: Mapped[NewId]
    tub_id: Mapped[Id] = mapped_column(ForeignKey("tub.id"))
    at: Mapped[Moment]
    fraction: Mapped[float]
    redose: Mapped[bool]
    treatment_id: Mapped[Id | None]  # no key: tubs lie below treatments
    dose_mg_per_l: Mapped[float | None]  # of the maintained substance after the re-dose, by calculation
    sheet: Mapped[Any] = mapped_column(JSON)
    recorded_at: Mapped[Moment]
    by: Mapped[Code]


class Measurement(Base):
    """A test kit's reading of the water."""

    __tablename__ = "measurement"
    __table_args__ = (
        CheckConstraint("substance IN ('chlorine', 'copper', 'ph')", name="substance"),
        CheckConstraint("value >= 0", name="value"),
        Index("ix_measurement_tub", "tub_id", "substance", "at"),
    )

    id: Mapped[NewId]
    tub_id: Mapped[Id] = mapped_column(ForeignKey("tub.id"))
    at: Mapped[Moment]
    substance: Mapped[str] = mapped_column(String(10))
    value: Mapped[float]  # mg/L, or pH
    kit: Mapped[Text]
    kit_limit: Mapped[float | None]  # the least the kit can see, mg/L
    recorded_at: Mapped[Moment]
    by: Mapped[Code]
    voided_at: Mapped[Moment | None]
    void_reason: Mapped[Text | None]


class Tool(Versioned, Base):
    """A net, tray or bucket: it carries water from tub to tub."""

    __tablename__ = "tool"
    __table_args__ = (CheckConstraint("kind IN ('net', 'tray', 'bucket', 'tweezers', 'other')", name="kind"),)

    id: Mapped[NewId]
    code: Mapped[Code] = mapped_column(unique=True)
    kind: Mapped[str] = mapped_column(String(10))
    created_at: Mapped[Moment]


class ToolUse(Base):
    """A tool touched the water of a tub."""

    __tablename__ = "tool_use"
    __table_args__ = (Index("ix_tool_use_tool", "tool_id", "at"), Index("ix_tool_use_tub", "tub_id", "at"))

    id: Mapped[NewId]
    tool_id: Mapped[Id] = mapped_column(ForeignKey("tool.id"))
    tub_id: Mapped[Id] = mapped_column(ForeignKey("tub.id"))
    at: Mapped[Moment]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]


class ToolDisinfection(Base):
    """A tool was treated so that it carries nothing on."""

    __tablename__ = "tool_disinfection"
    __table_args__ = (
        CheckConstraint("method IN ('hot_water', 'frozen', 'bleach', 'dried')", name="method"),
        Index("ix_tool_disinfection_tool", "tool_id", "at"),
    )

    id: Mapped[NewId]
    tool_id: Mapped[Id] = mapped_column(ForeignKey("tool.id"))
    at: Mapped[Moment]
    method: Mapped[str] = mapped_column(String(10))
    celsius: Mapped[float | None]
    minutes: Mapped[float]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]
