"""Lots, their stays in tubs, holds and losses; shipments' lines point here from above."""

from datetime import date
from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, Index, String, text
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId, Text, Versioned

PART, BACK = text("parent_lot_id IS NOT NULL"), text("returned_from_id IS NOT NULL")


class Lot(Versioned, Base):
    """Plants of one kind from one shipment line, kept together and identifiable by origin.

    The lower columns are a projection that can always be rebuilt from facts (quarantine).
    """

    __tablename__ = "lot"
    __table_args__ = (
        CheckConstraint(
            "state IN ('received', 'in_treatment', 'in_quarantine', 'cleared', 'closed', 'rejected')",
            name="state",
        ),
        CheckConstraint(
            'received + gained = "left" + sold + lost + split_off + disposed', name="quantity_conserved"
        ),
        CheckConstraint(
            '"left" >= 0 AND sold >= 0 AND lost >= 0 AND split_off >= 0 AND disposed >= 0 AND received >= 0',
            name="quantity_not_negative",
        ),
        CheckConstraint('reserved >= 0 AND reserved <= "left"', name="reserved_part_of_left"),
        CheckConstraint(
            "unit_of_sale IN ('pot', 'bunch', 'stem', 'portion', 'cup', 'mat')", name="unit_of_sale"
        ),
        CheckConstraint(
            "(state = 'cleared') = (cleared_at IS NOT NULL AND cleared_by IS NOT NULL"
            " AND certificate_serial IS NOT NULL)",
            name="cleared_has_evidence",
        ),
        CheckConstraint("state NOT IN ('closed', 'rejected') OR \"left\" = 0", name="ended_is_empty"),
        CheckConstraint("(parent_lot_id IS NULL) = (split_at IS NULL)", name="split_from_a_parent"),
        Index("ix_lot_state", "state", "received_at", "id"),
        Index("ix_lot_received_at", "received_at", "id"),
        Index("ix_lot_plant", "plant_id", "received_at", "id"),
        Index("ix_lot_supplier", "supplier_id", "received_at", "id"),
        Index("ix_lot_tub", "tub_id"),
        # Of the few lots that have one: counted among all, an index would seem to help with nothing.
        Index("ix_lot_parent", "parent_lot_id", sqlite_where=PART, postgresql_where=PART),
        Index("ix_lot_returned_from", "returned_from_id", sqlite_where=BACK, postgresql_where=BACK),
    )

    id: Mapped[NewId]
    code: Mapped[Code] = mapped_column(unique=True)
    plant_id: Mapped[Id] = mapped_column(ForeignKey("plant.id"))
    supplier_id: Mapped[Id] = mapped_column(ForeignKey("supplier.id"))
    shipment_id: Mapped[Id]  # no key: lots lie below intake
    parent_lot_id: Mapped[Id | None] = mapped_column(ForeignKey("lot.id"))
    split_at: Mapped[Moment | None]
    returned_from_id: Mapped[Id | None] = mapped_column(ForeignKey("lot.id"))  # a customer sent it back
    away_since: Mapped[Moment | None]
    state: Mapped[str] = mapped_column(String(13))
    state_since: Mapped[Moment]
    unit_of_sale: Mapped[str] = mapped_column(String(10))
    stems_per_bunch: Mapped[int | None]
    untied: Mapped[bool] = mapped_column(default=False)  # a bunch without lead and band: stems are counted
    kept_in_wool: Mapped[bool] = mapped_column(default=False)
    supplier_treatment_unknown: Mapped[bool] = mapped_column(default=False)
    strata: Mapped[Any] = mapped_column(JSON, default=list, server_default="[]")  # parts: rules_strata
    bag: Mapped[Code | None]  # lines of one shipment that came in the same water
    received: Mapped[int]
    gained: Mapped[int] = mapped_column(default=0)
    left: Mapped[int]
    reserved: Mapped[int] = mapped_column(default=0)
    sold: Mapped[int] = mapped_column(default=0)
    lost: Mapped[int] = mapped_column(default=0)
    split_off: Mapped[int] = mapped_column(default=0)
    disposed: Mapped[int] = mapped_column(default=0)
    received_at: Mapped[Moment]
    tub_id: Mapped[Id | None] = mapped_column(ForeignKey("tub.id"))
    repacked_at: Mapped[Moment | None]  # a full look at the new units is owed since then
    sealed_since: Mapped[Moment | None]  # cups found whole; None when opened, and for all other plants
    opened_at: Mapped[Moment | None]
    cleared_at: Mapped[Moment | None]
    cleared_by: Mapped[Code | None]
    certificate_serial: Mapped[str | None] = mapped_column(String(26))
    good_until: Mapped[Moment | None]  # of a cleared lot: until when it may be sold without another look
    regulated_lock: Mapped[bool] = mapped_column(default=False)

    clock_started_at: Mapped[Moment | None]
    release_day: Mapped[date | None]
    release_day_computed_at: Mapped[Moment | None]
    release_day_stale: Mapped[bool] = mapped_column(default=True)
    next_look_at: Mapped[Moment | None]
    decidable: Mapped[bool] = mapped_column(default=False)


class Stay(Base):
    """A lot in a tub from..to: the basis of tracing and of the quarantine clock."""

    __tablename__ = "stay"
    __table_args__ = (
        CheckConstraint("left_at IS NULL OR left_at >= entered_at", name="ends_after_start"),
        Index("ix_stay_lot", "lot_id", "entered_at"),
        Index("ix_stay_tub", "tub_id", "entered_at"),
        Index("ix_stay_tub_left", "tub_id", "left_at"),
    )

    id: Mapped[NewId]
    lot_id: Mapped[Id] = mapped_column(ForeignKey("lot.id"))
    tub_id: Mapped[Id] = mapped_column(ForeignKey("tub.id"))
    entered_at: Mapped[Moment]
    left_at: Mapped[Moment | None]
    shared: Mapped[bool] = mapped_column(default=False)  # entered water that held other lots


class Contact(Base):
    """Other water reached a lot: its clock starts anew at that moment."""

    __tablename__ = "contact"
    __table_args__ = (Index("ix_contact_lot", "lot_id", "at"),)

    id: Mapped[NewId]
    lot_id: Mapped[Id] = mapped_column(ForeignKey("lot.id"))
    at: Mapped[Moment]
    way: Mapped[str] = mapped_column(String(20))  # joined_water, tool
    tub_id: Mapped[Id | None] = mapped_column(ForeignKey("tub.id"))  # where the other water is or was
    touched_at: Mapped[Moment | None]  # when the tool was last in that water


class Hold(Base):
    """A stop on a lot; it is not a state."""

    __tablename__ = "hold"
    __table_args__ = (
        CheckConstraint("(lifted_at IS NULL) = (lifted_by IS NULL)", name="lifted_by"),
        Index("ix_hold_lot", "lot_id", "since"),
    )

    id: Mapped[NewId]
    lot_id: Mapped[Id] = mapped_column(ForeignKey("lot.id"))
    cause: Mapped[Code]
    reason: Mapped[Text]
    since: Mapped[Moment]
    placed_by: Mapped[Code]
    lifted_at: Mapped[Moment | None]
    lifted_by: Mapped[Code | None]
    lift_reason: Mapped[Text | None]


class Loss(Base):
    """Plants lost, with the cause."""

    __tablename__ = "loss"
    __table_args__ = (
        CheckConstraint("quantity > 0", name="quantity"),
        CheckConstraint(
            "cause IN ('treatment_damage', 'melt', 'broken', 'taken_as_sample', 'dead_on_arrival', 'other')",
            name="cause",
        ),
        Index("ix_loss_lot", "lot_id", "at"),
    )

    id: Mapped[NewId]
    lot_id: Mapped[Id] = mapped_column(ForeignKey("lot.id"))
    quantity: Mapped[int]
    there: Mapped[int | None]  # units there were before it; older rows do not say
    cause: Mapped[str] = mapped_column(String(20))
    note: Mapped[Text | None]
    at: Mapped[Moment]
    by: Mapped[Code]
