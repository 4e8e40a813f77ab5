"""Who was served from lots, since they were reached."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.lots.models import Lot
from service.sales.models import Dispatch, DispatchLine


@dataclass(frozen=True)
class Served:
    """Units of a lot that left with one dispatch and did not come back by a reversal."""

    dispatch_id: str
    order_ref: str
    customer_ref: str | None
    at: datetime
    lot_id: str
    lot_code: str
    unit_of_sale: str
    quantity: int


def served(session: Session, arrivals: Mapping[str, datetime]) -> list[Served]:
    """Everything sent from these lots at or after the moment each was reached, the earliest first."""
    rows = session.execute(
        select(
            Dispatch.id,
            Dispatch.order_ref,
            Dispatch.customer_ref,
            Dispatch.at,
            DispatchLine.lot_id,
            Lot.code,
            Lot.unit_of_sale,
            DispatchLine.quantity,
        )
        .join(DispatchLine, DispatchLine.dispatch_id == Dispatch.id)
        .join(Lot, Lot.id == DispatchLine.lot_id)
        .where(DispatchLine.lot_id.in_(arrivals), Dispatch.reversed_at.is_(None))
        .order_by(Dispatch.at, Dispatch.id, DispatchLine.n)
    ).all()
    return [Served(*row) for row in rows if row.at >= arrivals[row.lot_id]]
