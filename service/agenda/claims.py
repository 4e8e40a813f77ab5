"""Due work before a supplier's complaint deadline: what came dead, short or with pests is told in time."""

from collections import defaultdict
from collections.abc import Iterator
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.agenda.rules import Kind
from service.agenda.work import Work
from service.inspections.queries import looks_of
from service.intake.models import Shipment, ShipmentLine
from service.lots.models import Lot


def claim_work(session: Session, now: datetime) -> Iterator[Work]:
    """Shipments that are here and may still be complained of, until every lot of theirs was looked at."""
    rows = session.execute(
        select(Shipment.id, Shipment.code, Shipment.claim_before, Lot.id)
        .join(ShipmentLine, ShipmentLine.shipment_id == Shipment.id)
        .join(Lot, Lot.id == ShipmentLine.lot_id)
        .where(Shipment.claim_before >= now)
        .order_by(Shipment.id, ShipmentLine.n)
    ).all()
    open_claims: dict[tuple[str, str, datetime], list[str]] = defaultdict(list)
    for shipment_id, code, claim_before, lot_id in rows:
        if claim_before is not None:  # told by the query, not by its type
            open_claims[shipment_id, code, claim_before].append(lot_id)
    looks = looks_of(session, {lot_id for lots in open_claims.values() for lot_id in lots})
    for (shipment_id, code, claim_before), lots in open_claims.items():
        waiting = tuple(lot_id for lot_id in lots if not looks[lot_id])
        if waiting:
            title = f"Look through {code} and claim what is wrong"
            detail = "Dead, short or with pests: count, take photos and tell the supplier before then."
            yield Work(Kind.CLAIM, shipment_id, claim_before, title, detail, None, waiting)
