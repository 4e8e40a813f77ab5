"""Reading what was promised."""

from collections.abc import Sequence
from functools import cache
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from service.core.errors import NotFound
from service.lots.models import Lot
from service.sales.item_models import SalesItem, sold_as
from service.sales.models import Reservation, ReservationLine
from service.sales.whose import is_anothers

NAMES = ("id", "order_ref", "customer_ref", "status", "expires_at", "at", "by", "version")


@cache
def reservations() -> Select[Any]:
    """Every promise, without its lines."""
    return select(*(getattr(Reservation, name) for name in NAMES))


def reservation_views(session: Session, rows: Sequence[Sequence[Any]]) -> dict[str, dict[str, Any]]:
    """Promises with their lines, by id."""
    views = {row[0]: {**dict(zip(NAMES, row, strict=True)), "lines": []} for row in rows}
    line = ReservationLine
    lines = session.execute(
        select(
            line.reservation_id, line.lot_id, Lot.code, SalesItem.sku, line.quantity, line.sent, line.freed
        )
        .join(Lot, Lot.id == line.lot_id)
        .join(SalesItem, sold_as(), isouter=True)
        .where(line.reservation_id.in_(views))
        .order_by(line.reservation_id, Lot.cleared_at, Lot.id)
    ).all()
    for found in lines:
        views[found.reservation_id]["lines"].append(
            {
                "lot_id": found.lot_id,
                "lot_code": found.code,
                "sku": found.sku,
                "quantity": found.quantity,
                "sent": found.sent,
                "freed": found.freed,
            }
        )
    return views


def reservation_view(session: Session, reservation: Reservation) -> dict[str, Any]:
    """One promise as answered."""
    row = [getattr(reservation, name) for name in NAMES]
    return reservation_views(session, [row])[reservation.id]


def reservation_by_id(session: Session, reservation_id: str, asked_by: str) -> Reservation:
    """One promise that `asked_by` may see; raises NotFound."""
    found = session.get(Reservation, reservation_id)
    if found is None or is_anothers(session, found.by, asked_by):
        raise NotFound("reservation")
    return found
