"""A tenth of a lot that was tried before the rest, and how it was judged on its days."""

from sqlalchemy import CheckConstraint, ForeignKey, Index
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId, Text


class StemTrial(Base):
    """A few stems (or leaves) of a lot that a method was tried on, while the rest waits."""

    __tablename__ = "stem_trial"
    __table_args__ = (
        CheckConstraint("stems > 0", name="stems"),
        Index("ix_stem_trial_lot", "lot_id", "tried_at"),
    )

    id: Mapped[NewId]
    lot_id: Mapped[Id] = mapped_column(ForeignKey("lot.id"))
    protocol_version_id: Mapped[Id] = mapped_column(ForeignKey("protocol_version.id"))
    stems: Mapped[int]
    tried_at: Mapped[Moment]
    note: Mapped[Text | None]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]


class StemJudgement(Base):
    """How many of the stems lived when somebody looked."""

    __tablename__ = "stem_judgement"
    __table_args__ = (
        CheckConstraint("alive >= 0", name="alive"),
        Index("ix_stem_judgement_trial", "stem_trial_id", "at"),
    )

    id: Mapped[NewId]
    stem_trial_id: Mapped[Id] = mapped_column(ForeignKey("stem_trial.id"))
    at: Mapped[Moment]
    alive: Mapped[int]
    note: Mapped[Text | None]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]
