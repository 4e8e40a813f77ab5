"""Reading what may be sold and what left."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from service.catalogue.models import Plant
from service.clearance.models import Certificate
from service.clearance.queries import certificates
from service.core.errors import NotFound
from service.lots.models import Lot
from service.lots.queries import for_sale
from service.lots.rules import State
from service.sales.models import Dispatch, DispatchLine

NAMES = (
    "id",
    "order_ref",
    "customer_ref",
    "at",
    "by",
    "pack_check",
    "reversed_at",
    "reversal_reason",
    "version",
)


def dispatches() -> Select[Any]:
    """Every dispatch, without its lines."""
    return select(*(getattr(Dispatch, name) for name in NAMES))


def dispatch_views(session: Session, rows: Sequence[Sequence[Any]]) -> dict[str, dict[str, Any]]:
    """Dispatches with their lines, by id."""
    views = {row[0]: {**dict(zip(NAMES, row, strict=True)), "lines": []} for row in rows}
    lines = session.execute(
        select(DispatchLine.dispatch_id, DispatchLine.lot_id, Lot.code, DispatchLine.quantity)
        .join(Lot, Lot.id == DispatchLine.lot_id)
        .where(DispatchLine.dispatch_id.in_(views))
        .order_by(DispatchLine.dispatch_id, DispatchLine.n)
    ).all()
    for line in lines:
        shown = {"lot_id": line.lot_id, "lot_code": line.code, "quantity": line.quantity}
        views[line.dispatch_id]["lines"].append(shown)
    return views


def dispatch_view(session: Session, sent: Dispatch) -> dict[str, Any]:
    """One dispatch as answered."""
    row = [getattr(sent, name) for name in NAMES]
    return dispatch_views(session, [row])[sent.id]


def dispatch_by_id(session: Session, dispatch_id: str) -> Dispatch:
    """One dispatch; raises NotFound."""
    found = session.get(Dispatch, dispatch_id)
    if found is None:
        raise NotFound("dispatch")
    return found


def parcel_certificates(dispatch_id: str) -> Select[Any]:
    """The certificates issued for a dispatch, in the order of their issue."""
    return certificates().where(Certificate.dispatch_id == dispatch_id).order_by(Certificate.id)


def lines_of(session: Session, dispatch_id: str) -> Sequence[DispatchLine]:
    """The lines of a dispatch in order."""
    return session.scalars(
        select(DispatchLine).where(DispatchLine.dispatch_id == dispatch_id).order_by(DispatchLine.n)
    ).all()


def inventory(session: Session, now: datetime) -> list[dict[str, Any]]:
    """Per plant and unit of sale: cleared and good, reserved, available, and what is released next by day."""
    rows = session.execute(
        select(Lot.plant_id, Lot.unit_of_sale, func.sum(Lot.left), func.sum(Lot.reserved))
        .where(for_sale(now))
        .group_by(Lot.plant_id, Lot.unit_of_sale)
    ).all()
    cleared = {(row[0], row[1]): (int(row[2]), int(row[3])) for row in rows}
    coming = _coming(session)
    plants = _plants(session, {plant for plant, _ in (*cleared, *coming)})
    keys = sorted({*cleared, *coming}, key=lambda key: (plants[key[0]]["scientific_name"], key[1]))
    return [_row(plants[key[0]], key, cleared.get(key, (0, 0)), coming.get(key, [])) for key in keys]


def orders_with(session: Session, lot_id: str) -> list[str]:
    """The order references under which units of a lot left and did not come back."""
    return list(
        session.scalars(
            select(Dispatch.order_ref)
            .join(DispatchLine, DispatchLine.dispatch_id == Dispatch.id)
            .where(DispatchLine.lot_id == lot_id, Dispatch.reversed_at.is_(None))
            .distinct()
            .order_by(Dispatch.order_ref)
        )
    )


def _coming(session: Session) -> dict[tuple[str, str], list[dict[str, Any]]]:
    rows = session.execute(
        select(Lot.plant_id, Lot.unit_of_sale, Lot.release_day, func.sum(Lot.left))
        .where(Lot.state == State.IN_QUARANTINE.value, Lot.release_day.is_not(None))
        .group_by(Lot.plant_id, Lot.unit_of_sale, Lot.release_day)
        .order_by(Lot.release_day)
    ).all()
    found: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for plant, unit, day, quantity in rows:
        found.setdefault((plant, unit), []).append({"on": day, "quantity": int(quantity)})
    return found


def _plants(session: Session, ids: set[str]) -> dict[str, Mapping[str, Any]]:
    rows = session.execute(select(Plant.id, Plant.scientific_name, Plant.sku).where(Plant.id.in_(ids))).all()
    return {row.id: {"scientific_name": row.scientific_name, "sku": row.sku} for row in rows}


def _row(
    plant: Mapping[str, Any],
    key: tuple[str, str],
    cleared: tuple[int, int],
    coming: list[dict[str, Any]],
) -> dict[str, Any]:
    left, reserved = cleared
    return {
        "plant_id": key[0],
        "scientific_name": plant["scientific_name"],
        "sku": plant["sku"],
        "unit_of_sale": key[1],
        "cleared": left,
        "reserved": reserved,
        "available": left - reserved,
        "next": coming,
    }
