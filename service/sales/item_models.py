"""Sales items: what the shop calls one unit of a plant."""

from sqlalchemy import CheckConstraint, ColumnElement, ForeignKey, String, UniqueConstraint, and_
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId, Versioned
from service.lots.models import Lot


class SalesItem(Versioned, Base):
    """A plant in one unit of sale under the house's own number (SKU), and its GTIN if it has one."""

    __tablename__ = "sales_item"
    __table_args__ = (
        UniqueConstraint("plant_id", "unit_of_sale"),
        CheckConstraint(
            "unit_of_sale IN ('pot', 'bunch', 'stem', 'portion', 'cup', 'mat')", name="unit_of_sale"
        ),
    )

    id: Mapped[NewId]
    sku: Mapped[Code] = mapped_column(unique=True)
    plant_id: Mapped[Id] = mapped_column(ForeignKey("plant.id"))
    unit_of_sale: Mapped[str] = mapped_column(String(10))
    gtin: Mapped[str | None] = mapped_column(String(14), unique=True)
    created_at: Mapped[Moment]


def sold_as() -> ColumnElement[bool]:
    """What joins a lot to the item that its units are sold as, if they have a name."""
    return and_(SalesItem.plant_id == Lot.plant_id, SalesItem.unit_of_sale == Lot.unit_of_sale)
