"""FastAPI, SQLAlchemy's ORM and pydantic: the stack of the typed tutorials."""

from collections.abc import Iterator
from datetime import date, datetime
from typing import Annotated, Any
from uuid import UUID

from fastapi import Depends, FastAPI
from pydantic import BaseModel, ConfigDict, Field, computed_field
from sqlalchemy.orm import Session

from benchmarks.peers.tables import Lot, engine, lots


class Out(BaseModel):
    """What is read from an entity."""

    model_config = ConfigDict(from_attributes=True)


class PlantOut(Out):
    """A kind of plant."""

    id: UUID
    scientific_name: str
    trade_names: list[str] = Field(exclude=True)

    @computed_field  # type: ignore[prop-decorator]  # pydantic's own form
    @property
    def trade_name(self) -> str | None:
        """The first of its names in the trade."""
        return self.trade_names[0] if self.trade_names else None


class SupplierOut(Out):
    """Who it came from."""

    id: UUID
    name: str


class HoldOut(Out):
    """What stops a lot."""

    id: UUID
    cause: str
    since: datetime


class QuantityOut(Out):
    """How many there are, and what became of the others."""

    received: int
    gained: int
    left: int
    reserved: int
    sold: int
    lost: int
    split_off: int
    disposed: int


class LotOut(Out):
    """So many plants of one kind that came together."""

    id: UUID
    code: str
    state: str
    state_since: datetime
    plant: PlantOut
    supplier: SupplierOut
    shipment_id: UUID | None
    parent_lot_id: UUID | None
    returned_from_id: UUID | None
    tub_id: UUID | None
    unit_of_sale: str
    stems_per_bunch: int | None
    untied: bool
    kept_in_wool: bool
    strata: Any
    bag: str | None
    supplier_treatment_unknown: bool
    quantity: QuantityOut
    received_at: datetime
    repacked_at: datetime | None
    sealed_since: datetime | None
    opened_at: datetime | None
    cleared_at: datetime | None
    regulated_lock: bool
    holds: list[HoldOut]
    clock_started_at: datetime | None
    certificate_serial: str | None
    good_until: datetime | None
    version: int
    release_day: date | None
    release_day_computed_at: datetime | None
    release_day_stale: bool


class PageOut(BaseModel):
    """A page of lots."""

    items: list[LotOut]


def session() -> Iterator[Session]:
    """The session of a request."""
    with Session(engine) as found:
        yield found


app = FastAPI()


@app.get("/api/v1/lots")
def list_lots(found: Annotated[Session, Depends(session)]) -> PageOut:
    """List lots."""
    return PageOut(items=[_out(lot) for lot in lots(found)])


def _out(lot: Lot) -> LotOut:
    lot.quantity = QuantityOut.model_validate(lot)  # type: ignore[attr-defined]  # its entity has no such part
    return LotOut.model_validate(lot)
