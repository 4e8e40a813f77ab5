"""A supplier's record: how the last lots came, what escaped in them, and what was claimed."""

from datetime import datetime
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.catalogue.models import Supplier
from service.inspections.queries import pests
from service.lots.models import Lot
from service.quarantine.arrivals import Arrival, arrivals
from service.recalls.models import Complaint, ComplaintLot
from service.recalls.rules import LAST_LOTS, supplier_warning


def supplier_record(session: Session, supplier: Supplier, now: datetime) -> dict[str, Any]:
    """The last lots of a supplier, which of them came infested, and a warning when too many did."""
    resetting = pests(session).resetting
    came = arrivals(session, supplier.id, until=now, at=now, most=LAST_LOTS)
    shown = [_shown(arrival, resetting) for arrival in came]
    infested = sum(bool(lot["found"] or lot["escaped"]) for lot in shown)
    claimed = session.scalars(
        select(func.count(func.distinct(Complaint.id)))
        .join(ComplaintLot, ComplaintLot.complaint_id == Complaint.id)
        .join(Lot, Lot.id == ComplaintLot.lot_id)
        .where(Lot.supplier_id == supplier.id, Complaint.claim_on_supplier.is_(True))
    ).one()
    return {
        "supplier_id": supplier.id,
        "lots": shown,
        "of": len(shown),
        "infested": infested,
        "claims": claimed,
        "warning": supplier_warning(infested, len(shown)),
    }


def _shown(arrival: Arrival, resetting: Any) -> dict[str, Any]:
    return {
        "lot_id": arrival.lot_id,
        "lot_code": arrival.lot_code,
        "received_at": arrival.received_at,
        "looked_at": None if arrival.look is None else arrival.look.at,
        "found": sorted(arrival.found & set(resetting)),
        "escaped": sorted(arrival.escaped),
    }
