"""Shipments, expected or received, their lines and the bags that share water."""

from datetime import date
from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId, Text, Versioned


class Shipment(Versioned, Base):
    """An incoming delivery."""

    __tablename__ = "shipment"
    __table_args__ = (
        CheckConstraint("received_at IS NOT NULL OR expected_on IS NOT NULL", name="expected_or_received"),
        Index("ix_shipment_received_at", "received_at", "id"),
    )

    id: Mapped[NewId]
    code: Mapped[Code] = mapped_column(unique=True)
    supplier_id: Mapped[Id] = mapped_column(ForeignKey("supplier.id"))
    expected_on: Mapped[date | None]
    received_at: Mapped[Moment | None]
    claim_before: Mapped[Moment | None]  # until when the supplier takes a complaint
    supplier_warning: Mapped[Text | None]  # how his last lots came, when that was bad
    documents: Mapped[Any] = mapped_column(JSON)
    note: Mapped[Text | None]
    created_at: Mapped[Moment]


class ShipmentLine(Base):
    """One line of a shipment; received lines have a lot."""

    __tablename__ = "shipment_line"
    __table_args__ = (
        UniqueConstraint("shipment_id", "n"),
        CheckConstraint("quantity > 0", name="quantity"),
    )

    id: Mapped[NewId]
    shipment_id: Mapped[Id] = mapped_column(ForeignKey("shipment.id"))
    n: Mapped[int]
    plant_id: Mapped[Id] = mapped_column(ForeignKey("plant.id"))
    quantity: Mapped[int]
    unit_of_sale: Mapped[Code]
    details: Mapped[Any] = mapped_column(
        JSON
    )  # stems_per_bunch, kept_in_wool, strata, bag, supplier_treatment
    lot_id: Mapped[Id | None] = mapped_column(ForeignKey("lot.id"))
