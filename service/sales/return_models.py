"""What customers sent back: each line of it is a new lot."""

from sqlalchemy import CheckConstraint, ForeignKey, Index
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId, Text


class ReturnedLot(Base):
    """Units of one lot that came back from one dispatch, as a lot of their own."""

    __tablename__ = "returned_lot"
    __table_args__ = (
        CheckConstraint("quantity > 0", name="quantity"),
        Index("ix_returned_lot_dispatch", "dispatch_id"),
        Index("ix_returned_lot_from", "from_lot_id"),
    )

    id: Mapped[NewId]
    dispatch_id: Mapped[Id] = mapped_column(ForeignKey("dispatch.id"))
    from_lot_id: Mapped[Id] = mapped_column(ForeignKey("lot.id"))
    lot_id: Mapped[Id] = mapped_column(ForeignKey("lot.id"), unique=True)
    quantity: Mapped[int]
    reason: Mapped[Text]
    at: Mapped[Moment]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]
