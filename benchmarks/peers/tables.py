"""The tables of a page of lots as entities with relations, as the handbook of SQLAlchemy's ORM maps them."""

import os

from sqlalchemy import create_engine, select
from sqlalchemy.ext.declarative import DeferredReflection
from sqlalchemy.orm import DeclarativeBase, Mapped, Session, joinedload, relationship, selectinload

LIMIT = 50


class Base(DeferredReflection, DeclarativeBase):
    """Base of the entities; their columns are read from the database."""

    __abstract__ = True


class Plant(Base):
    """A kind of plant."""

    __tablename__ = "plant"


class Supplier(Base):
    """Who it came from."""

    __tablename__ = "supplier"


class Hold(Base):
    """What stops a lot."""

    __tablename__ = "hold"


class Lot(Base):
    """So many plants of one kind that came together."""

    __tablename__ = "lot"

    plant: Mapped[Plant] = relationship(foreign_keys="Lot.plant_id")
    supplier: Mapped[Supplier] = relationship(foreign_keys="Lot.supplier_id")
    holds: Mapped[list[Hold]] = relationship(foreign_keys="Hold.lot_id", viewonly=True)


engine = create_engine(os.environ["DIPLEDGER_DATABASE_URL"])
Base.prepare(engine)


def lots(session: Session) -> list[Lot]:
    """The oldest lots."""
    asked = (
        select(Lot)
        .options(joinedload(Lot.plant), joinedload(Lot.supplier), selectinload(Lot.holds))
        .order_by(Lot.received_at, Lot.id)  # type: ignore[attr-defined]  # read from the database
        .limit(LIMIT)
    )
    return list(session.scalars(asked))
