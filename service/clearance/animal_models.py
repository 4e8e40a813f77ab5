"""Tests of soak water with animals."""

from sqlalchemy import CheckConstraint, ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId, Text


class AnimalTestRow(Base):
    """Animals in water that plants of a lot had soaked in, from..to."""

    __tablename__ = "animal_test"
    __table_args__ = (
        CheckConstraint("animal IN ('shrimp', 'water_flea')", name="animal"),
        CheckConstraint("animals > 0 AND alive >= 0 AND alive <= animals", name="counted"),
        CheckConstraint("ended_at > started_at", name="lasted"),
        Index("ix_animal_test_lot", "lot_id", "ended_at"),
    )

    id: Mapped[NewId]
    lot_id: Mapped[Id] = mapped_column(ForeignKey("lot.id"))
    animal: Mapped[str] = mapped_column(String(10))
    animals: Mapped[int]
    alive: Mapped[int]
    started_at: Mapped[Moment]
    ended_at: Mapped[Moment]
    note: Mapped[Text | None]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]
