"""Reading what left."""

from collections.abc import Sequence
from functools import cache
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from service.clearance.models import Certificate
from service.clearance.queries import certificates
from service.core.errors import NotFound
from service.lots.models import Lot
from service.sales.item_models import SalesItem, sold_as
from service.sales.models import Dispatch, DispatchLine
from service.sales.return_models import ReturnedLot

NAMES = (
    "id",
    "order_ref",
    "customer_ref",
    "at",
    "by",
    "pack_check",
    "registration_number",
    "reversed_at",
    "reversal_reason",
    "version",
)


@cache
def dispatches() -> Select[Any]:
    """Every dispatch, without its lines."""
    return select(*(getattr(Dispatch, name) for name in NAMES))


def dispatch_views(session: Session, rows: Sequence[Sequence[Any]]) -> dict[str, dict[str, Any]]:
    """Dispatches with their lines, by id."""
    views = {row[0]: {**dict(zip(NAMES, row, strict=True)), "lines": []} for row in rows}
    lines = session.execute(
        select(DispatchLine.dispatch_id, DispatchLine.lot_id, Lot.code, SalesItem.sku, DispatchLine.quantity)
        .join(Lot, Lot.id == DispatchLine.lot_id)
        .join(SalesItem, sold_as(), isouter=True)
        .where(DispatchLine.dispatch_id.in_(views))
        .order_by(DispatchLine.dispatch_id, DispatchLine.n)
    ).all()
    for line in lines:
        views[line.dispatch_id]["lines"].append(
            {
                "lot_id": line.lot_id,
                "lot_code": line.code,
                "sku": line.sku,
                "quantity": line.quantity,
                "returned": 0,
            }
        )
    _count_returns(session, views)
    return views


def _count_returns(session: Session, views: dict[str, dict[str, Any]]) -> None:
    back = session.execute(
        select(ReturnedLot.dispatch_id, ReturnedLot.from_lot_id, func.sum(ReturnedLot.quantity))
        .where(ReturnedLot.dispatch_id.in_(views))
        .group_by(ReturnedLot.dispatch_id, ReturnedLot.from_lot_id)
    ).all()
    for dispatch_id, lot_id, quantity in back:
        left = quantity
        for line in views[dispatch_id]["lines"]:
            if line["lot_id"] == lot_id:
                line["returned"] = min(left, line["quantity"])
                left -= line["returned"]


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
