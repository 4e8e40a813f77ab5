"""The house's own settings, one row: time zone, locale, units, who issues, how late an entry may be."""

from typing import NamedTuple

from sqlalchemy import CheckConstraint, String, select
from sqlalchemy.orm import Mapped, Session, mapped_column

from service.core.db import Base, Code, Text, Versioned


class House(Versioned, Base):
    """The single row of settings that the owner changes while the service runs."""

    __tablename__ = "house"
    __table_args__ = (
        CheckConstraint("id = 1", name="single"),
        CheckConstraint("late_entry_limit_days BETWEEN 1 AND 366", name="late_limit"),
        CheckConstraint("units IN ('si', 'us')", name="units"),
    )

    id: Mapped[int] = mapped_column(primary_key=True, default=1, autoincrement=False)
    time_zone: Mapped[str] = mapped_column(String(64), default="UTC")
    units: Mapped[str] = mapped_column(String(2), default="si")
    locale: Mapped[str] = mapped_column(String(20), default="en")
    issuer_name: Mapped[Text] = mapped_column(default="")
    issuer_address: Mapped[Text] = mapped_column(default="")
    late_entry_limit_days: Mapped[int] = mapped_column(default=60)
    country: Mapped[str | None] = mapped_column(String(2))  # where it is (ISO 3166-1), and the part of it
    subdivision: Mapped[str | None] = mapped_column(String(6))
    registration_number: Mapped[Code | None]  # of its plant-health registration, where it has one
    gs1_prefix: Mapped[str | None] = mapped_column(String(12))  # its GS1 company prefix, if it has one
    gln: Mapped[str | None] = mapped_column(String(13))  # the place itself, of that prefix


class Manner(NamedTuple):
    """How the house writes times, numbers and amounts."""

    time_zone: str
    locale: str
    units: str


_HOUSE = House.__table__.c
MANNER = select(_HOUSE.time_zone, _HOUSE.locale, _HOUSE.units).where(_HOUSE.id == 1)


def manner(session: Session) -> Manner:
    """How the house writes, for what is asked so often that a whole entity would be too much."""
    return Manner(*session.connection().execute(MANNER).one())


def house(session: Session) -> House:
    """The settings row; made with its defaults by the first migration."""
    found = session.get_one(House, 1)
    session.info[House] = found  # held: a session forgets what nobody holds, and would read it at each asking
    return found
