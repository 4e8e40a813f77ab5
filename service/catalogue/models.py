"""Suppliers, plants with their tolerances, and pests as adopted from the reference data."""

from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, Index, String, false, text
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId, Text, Versioned

CURRENT = text("superseded_at IS NULL")


class Supplier(Versioned, Base):
    """Who plants come from."""

    __tablename__ = "supplier"

    id: Mapped[NewId]
    name: Mapped[Text] = mapped_column(unique=True)
    country: Mapped[str] = mapped_column(String(2))
    registration_number: Mapped[Code | None]
    outdoor_grown: Mapped[bool] = mapped_column(default=False)
    in_vitro: Mapped[bool] = mapped_column(default=False, server_default=false())  # grows in sealed cups
    active: Mapped[bool] = mapped_column(default=True)
    created_at: Mapped[Moment]


class Plant(Versioned, Base):
    """A kind of plant that is traded."""

    __tablename__ = "plant"
    __table_args__ = (
        CheckConstraint("look_class IN ('broad_leaf', 'stem_rosette', 'moss_fine')", name="look_class"),
    )

    id: Mapped[NewId]
    code: Mapped[Code] = mapped_column(unique=True)
    scientific_name: Mapped[Text]
    trade_names: Mapped[Any] = mapped_column(JSON)
    synonyms: Mapped[Any] = mapped_column(JSON)
    growth_form: Mapped[Code]
    look_class: Mapped[str] = mapped_column(String(20))
    restricted: Mapped[Any] = mapped_column(JSON)
    reference_version: Mapped[Code | None]
    created_at: Mapped[Moment]


class Tolerance(Base):
    """How a plant takes a treatment method."""

    __tablename__ = "tolerance"
    __table_args__ = (CheckConstraint("level IN ('tolerates', 'caution', 'avoid', 'unknown')", name="level"),)

    plant_id: Mapped[Id] = mapped_column(ForeignKey("plant.id"), primary_key=True)
    method: Mapped[Code] = mapped_column(primary_key=True)
    level: Mapped[str] = mapped_column(String(10))
    grade: Mapped[Code]
    source: Mapped[Text]


class Pest(Base):
    """What hitch-hikes, with its figures; a changed figure is a new row, a used one is never updated.

    `house_number` counts the house's own figures of development: they stand in `figures`, and what the
    reference data says in their place in `published`. Both are null where the reference data holds.
    """

    __tablename__ = "pest"
    __table_args__ = (
        Index("uq_pest_current", "code", unique=True, sqlite_where=CURRENT, postgresql_where=CURRENT),
        CheckConstraint("regulated IN ('none', 'check_local', 'notifiable')", name="regulated"),
    )

    id: Mapped[NewId]
    code: Mapped[Code]
    reference_version: Mapped[Code]
    regulated: Mapped[str] = mapped_column(String(12))
    figures: Mapped[Any] = mapped_column(JSON)  # the dataclass service.reference.pests.Pest as a document
    house_number: Mapped[int | None]
    published: Mapped[Any] = mapped_column(JSON(none_as_null=True), nullable=True)
    superseded_at: Mapped[Moment | None]
