"""The daily rollup of consumption: a projection that always equals the ledger."""

from datetime import date

from sqlalchemy import Index, String
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, BaseUnits, Code, Id


class ConsumptionDay(Base):
    """What was used of a material on one local day, under one protocol, for one reason."""

    __tablename__ = "consumption_day"
    __table_args__ = (Index("ix_consumption_day_material", "material_id", "day"),)

    day: Mapped[date] = mapped_column(primary_key=True)
    material_id: Mapped[Id] = mapped_column(primary_key=True)
    protocol: Mapped[str] = mapped_column(String(100), primary_key=True)  # "code/number", "" for none
    reason: Mapped[Code] = mapped_column(primary_key=True)
    used: Mapped[BaseUnits]
    cost_micro: Mapped[BaseUnits | None]  # millionths of the currency; none when unknown for any part
    currency: Mapped[str | None] = mapped_column(String(3))  # none as well when currencies are mixed
    active_mg: Mapped[BaseUnits | None]
    discharged_mg: Mapped[BaseUnits | None]  # before neutralising
    left_mg: Mapped[BaseUnits | None]  # of it, after neutralising
