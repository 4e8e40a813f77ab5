"""Reading shipments with their lines and lots."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from sqlalchemy import Integer, bindparam, cast, func, select
from sqlalchemy.orm import Session

from service.catalogue.models import Supplier
from service.core.errors import NotFound
from service.core.rows import Listing, Rows, of
from service.intake.models import Shipment, ShipmentLine
from service.intake.rules import code_prefix
from service.lots.models import Lot
from service.lots.queries import lineage
from service.photos.queries import photos_of

LINE = ("n", "plant_id", "quantity", "unit_of_sale", "lot_id")
SHIPMENT = Rows(
    {
        **of(Shipment, "id", "code"),
        **of(Supplier, "id", "name", within="supplier"),
        **of(Shipment, "expected_on", "received_at", "claim_before", "supplier_warning", "documents", "note"),
        **of(Shipment, "created_at", "version"),
    },
    lambda found: found.join(Supplier, Supplier.id == Shipment.supplier_id),
)
SHIPMENTS = Listing(
    SHIPMENT,
    ("id",),
    {
        "supplier": Shipment.supplier_id == bindparam("supplier"),
        "expected": Shipment.received_at.is_(None),
        "arrived": Shipment.received_at.is_not(None),
    },
)
ONE = SHIPMENT.statement.where(Shipment.id == bindparam("shipment"))


def shipments_asked(asked: Mapping[str, Any]) -> dict[str, Any]:
    """What the filters of `SHIPMENTS` bind for a query: those not yet received, the others, or all."""
    expected = asked["expected"]
    return {**asked, "expected": expected or None, "arrived": expected is False or None}


def shipment_view(session: Session, shipment_id: str) -> dict[str, Any]:
    """One shipment as answered, with its lines and lots; raises NotFound."""
    session.flush()  # an act answers with the shipment as it has left it
    found = SHIPMENT.write(session.connection().execute(ONE, {"shipment": shipment_id}))
    if not found:
        raise NotFound("shipment")
    lines = session.execute(
        select(*(getattr(ShipmentLine, name) for name in LINE), ShipmentLine.details)
        .where(ShipmentLine.shipment_id == shipment_id)
        .order_by(ShipmentLine.n)
    ).all()
    lots = session.execute(
        select(Lot.id, Lot.code, Lot.state)
        .join(ShipmentLine, ShipmentLine.lot_id == Lot.id)
        .where(ShipmentLine.shipment_id == shipment_id)
        .order_by(ShipmentLine.n)
    ).all()
    return {
        **found[0],
        "lines": [{**dict(zip(LINE, line[:-1], strict=True)), "strata": [], **line[-1]} for line in lines],
        "photos": photos_of(session, [shipment_id])[shipment_id],
        "lots": [dict(lot._mapping) for lot in lots],
    }


def shipment_by_id(session: Session, shipment_id: str, *, lock: bool = False) -> Shipment:
    """One shipment; raises NotFound."""
    found = session.get(Shipment, shipment_id, with_for_update=lock or None)
    if found is None:
        raise NotFound("shipment")
    return found


def lines_of(session: Session, shipment_id: str) -> list[ShipmentLine]:
    """The lines of a shipment in order."""
    return list(
        session.scalars(
            select(ShipmentLine).where(ShipmentLine.shipment_id == shipment_id).order_by(ShipmentLine.n)
        )
    )


def next_number(session: Session, day: date) -> int:
    """The number of the next shipment of that day's year; the caller holds the house row."""
    prefix = code_prefix(day)
    number = cast(func.substr(Shipment.code, len(prefix) + 1), Integer)
    return (session.scalar(select(func.max(number)).where(Shipment.code.startswith(prefix))) or 0) + 1


def tubs_named(lines: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    """The tubs that the lines name, each with the pointer of its first naming."""
    found: dict[str, str] = {}
    for n, line in enumerate(lines):
        if line["tub_id"] is not None:
            found.setdefault(line["tub_id"], f"#/lines/{n}/tub_id")
    return found


def supplier_was_asked(session: Session, lot: Lot) -> bool:
    """Whether it was said at receipt what the supplier treated a lot, or the one it was split from, with."""
    root = next((forebear for forebear, _ in reversed(lineage(session, lot.id))), lot.id)
    told = session.scalar(select(ShipmentLine.details).where(ShipmentLine.lot_id == root))
    return told is not None and told["supplier_treatment"] is not None
