"""Materials, batches and the stock ledger in whole microlitres and milligrams."""

from datetime import date
from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, Index, String, text
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, BaseUnits, Code, Id, Moment, NewId, Text, Versioned


class Material(Versioned, Base):
    """A dip material, neutraliser or fertiliser."""

    __tablename__ = "material"
    __table_args__ = (
        CheckConstraint("form IN ('liquid', 'solid')", name="form"),
        CheckConstraint("base_unit IN ('uL', 'mg')", name="base_unit"),
        CheckConstraint("lead_time_days >= 0", name="lead_time"),
        CheckConstraint("lead_time_deviation_days >= 0", name="lead_time_deviation"),
        CheckConstraint("service_level > 0.5 AND service_level < 1", name="service_level"),
    )

    id: Mapped[NewId]
    code: Mapped[Code] = mapped_column(unique=True)
    name: Mapped[Text]
    substance: Mapped[Code]
    form: Mapped[str] = mapped_column(String(6))
    base_unit: Mapped[str] = mapped_column(String(2))
    figures: Mapped[Any] = mapped_column(
        JSON
    )  # the dataclass service.reference.materials.Material as a document
    reference_version: Mapped[Code | None]
    lead_time_days: Mapped[int] = mapped_column(default=7)
    lead_time_deviation_days: Mapped[float] = mapped_column(default=0.0, server_default="0")
    # assumed: one order in twenty may come too late
    service_level: Mapped[float] = mapped_column(default=0.95, server_default="0.95")
    pack_base_units: Mapped[BaseUnits | None]
    least_order_base_units: Mapped[BaseUnits | None]
    pack_cost_minor: Mapped[int | None]
    order_cost_minor: Mapped[int | None]  # delivery and work, whatever is ordered
    order_currency: Mapped[str | None] = mapped_column(String(3))
    created_at: Mapped[Moment]


VALID = text("voided_at IS NULL")


class StockBatch(Versioned, Base):
    """One container or delivery of a material; its balance is the sum of its ledger lines."""

    __tablename__ = "stock_batch"
    __table_args__ = (
        CheckConstraint("balance >= 0", name="balance_not_negative"),
        CheckConstraint("received > 0", name="received_positive"),
        CheckConstraint("container_base_units > 0", name="container_positive"),
        Index("ix_stock_batch_material", "material_id", "expires_on", "id"),
    )

    id: Mapped[NewId]
    material_id: Mapped[Id] = mapped_column(ForeignKey("material.id"))
    batch_number: Mapped[Code]
    received_at: Mapped[Moment]
    made_on: Mapped[date | None]
    opened_on: Mapped[date | None]
    expires_on: Mapped[date | None]
    strength_value: Mapped[float | None]  # as delivered, in the unit that its basis names
    strength_basis: Mapped[Code | None]
    strength_g_per_l: Mapped[float | None]  # of the substance, for liquids, as delivered
    content_fraction: Mapped[float | None]  # of the substance, for solids
    measured_g_per_l: Mapped[float | None]
    measured_at: Mapped[Moment | None]
    copper_form: Mapped[Code | None]
    drop_ml: Mapped[float | None]
    shelf_celsius: Mapped[float] = mapped_column(default=20.0)
    received: Mapped[BaseUnits]
    balance: Mapped[BaseUnits]
    container_base_units: Mapped[BaseUnits | None]  # what one container holds when it is full
    cost_minor: Mapped[int | None]
    currency: Mapped[str | None] = mapped_column(String(3))
    blocked: Mapped[bool] = mapped_column(default=False)
    block_reason: Mapped[Text | None]


class Shelf(Versioned, Base):
    """A place in the store with a thermometer of its own."""

    __tablename__ = "shelf"

    id: Mapped[NewId]
    name: Mapped[Code] = mapped_column(unique=True)
    created_at: Mapped[Moment]


class ShelfReading(Base):
    """How warm a shelf was at one moment; a wrong one is voided, never changed."""

    __tablename__ = "shelf_reading"
    __table_args__ = (
        Index(
            "uq_shelf_reading_valid",
            "shelf_id",
            "at",
            unique=True,
            sqlite_where=VALID,
            postgresql_where=VALID,
        ),
        CheckConstraint("celsius BETWEEN -30 AND 60", name="plausible"),
    )

    id: Mapped[NewId]
    shelf_id: Mapped[Id] = mapped_column(ForeignKey("shelf.id"))
    at: Mapped[Moment]
    celsius: Mapped[float]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]
    voided_at: Mapped[Moment | None]
    void_reason: Mapped[Text | None]


class ShelfStay(Base):
    """A batch stands on a shelf, or on none, since a moment, until the next stay of it begins."""

    __tablename__ = "shelf_stay"
    __table_args__ = (Index("ix_shelf_stay_batch", "batch_id", "since", "id"),)

    id: Mapped[NewId]
    batch_id: Mapped[Id] = mapped_column(ForeignKey("stock_batch.id"))
    shelf_id: Mapped[Id | None] = mapped_column(ForeignKey("shelf.id"))
    since: Mapped[Moment]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]


# Written out, not bound: only so do both databases see that the index of these few lines fits a query.
UNUSED = text("reason IN ('count', 'disposal', 'spill')")


class StockEntry(Base):
    """One signed line of the ledger; never edited, never deleted (triggers refuse it)."""

    __tablename__ = "stock_entry"
    __table_args__ = (
        CheckConstraint("amount <> 0", name="amount_not_zero"),
        CheckConstraint(
            "reason IN ('receipt', 'treatment', 'redose', 'neutralise', 'test', 'count', 'disposal', 'spill',"
            " 'reversal')",
            name="reason",
        ),
        Index("ix_stock_entry_batch", "batch_id", "id"),
        Index("ix_stock_entry_at", "at", "id"),
        Index("ix_stock_entry_cause", "cause_kind", "cause_id"),
        Index("ix_stock_entry_unused", "at", sqlite_where=UNUSED, postgresql_where=UNUSED),
        Index("ix_stock_entry_treatment", "treatment_id", "reason"),
    )

    id: Mapped[NewId]
    batch_id: Mapped[Id] = mapped_column(ForeignKey("stock_batch.id"))
    amount: Mapped[BaseUnits]
    active_mg: Mapped[BaseUnits | None]  # of the substance in it, at the strength of that day
    reason: Mapped[str] = mapped_column(String(12))
    way: Mapped[str | None] = mapped_column(String(16))  # how a disposal left the house
    cause_kind: Mapped[Code]  # treatment_step, water_change, stock_batch, stock_count ...
    cause_id: Mapped[Code]
    treatment_id: Mapped[
        Id | None
    ]  # for consumption by protocol and lot; no key: stores lie below treatments
    note: Mapped[Text | None]
    reverses_id: Mapped[Id | None] = mapped_column(ForeignKey("stock_entry.id"), unique=True)
    at: Mapped[Moment]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]
