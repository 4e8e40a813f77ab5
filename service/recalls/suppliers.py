"""A supplier's record: how the last lots came, what escaped in them, and what was claimed."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.catalogue.models import Supplier
from service.inspections.queries import pests
from service.intake.models import Shipment
from service.journal.actions import Note
from service.lots.models import Lot
from service.quarantine.arrivals import Arrival, arrivals
from service.recalls.models import Complaint, ComplaintLot
from service.recalls.rules import LAST_LOTS, supplier_warning
from service.recalls.rules_facts import TICK


def warn(session: Session, note: Note) -> None:
    """Reaction: a shipment was ordered or came; it carries the warning that its supplier's last lots give."""
    for shipment in (thing for thing in note.about if isinstance(thing, Shipment)):
        before = note.act.at if shipment.received_at is None else shipment.received_at - TICK
        shown = _last_lots(session, shipment.supplier_id, before, note.act.now)
        shipment.supplier_warning = supplier_warning(_infested(shown), len(shown))


def supplier_record(session: Session, supplier: Supplier, now: datetime) -> dict[str, Any]:
    """The last lots of a supplier, which of them came infested, and a warning when too many did."""
    shown = _last_lots(session, supplier.id, now, now)
    infested = _infested(shown)
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


def _last_lots(session: Session, supplier_id: str, until: datetime, at: datetime) -> list[dict[str, Any]]:
    resetting = pests(session).resetting
    came = arrivals(session, supplier_id, until=until, at=at, most=LAST_LOTS)
    return [_shown(arrival, resetting) for arrival in came]


def _infested(lots: Sequence[Mapping[str, Any]]) -> int:
    return sum(bool(lot["found"] or lot["escaped"]) for lot in lots)


def _shown(arrival: Arrival, resetting: Any) -> dict[str, Any]:
    return {
        "lot_id": arrival.lot_id,
        "lot_code": arrival.lot_code,
        "received_at": arrival.received_at,
        "looked_at": None if arrival.look is None else arrival.look.at,
        "found": sorted(arrival.found & set(resetting)),
        "escaped": sorted(arrival.escaped),
    }
