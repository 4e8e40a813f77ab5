"""What a recall starts from: which lots, each followed from which moment."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session

from service.catalogue.models import Supplier
from service.core.errors import Invalid
from service.inspections.models import Inspection
from service.inspections.queries import lots_about, lots_in
from service.lots.models import Lot
from service.recalls.models import Complaint, ComplaintLot
from service.recalls.rules import Origin
from service.stores.models import StockBatch, StockEntry
from service.treatments.models import TreatmentLot, TreatmentStep
from service.tubs.models import WaterChange

FIELDS = {
    Origin.LOT: "lot_id",
    Origin.FIND: "inspection_id",
    Origin.COMPLAINT: "complaint_id",
    Origin.BATCH: "batch_id",
    Origin.SUPPLIER: "supplier_id",
}
Start = dict[str, datetime]


@dataclass(frozen=True)
class Source:
    """The thing that a recall starts from, and the lots it is followed from."""

    origin: Origin
    thing: Any
    start: Start


def source(session: Session, facts: Mapping[str, Any], since: datetime | None) -> Source:
    """The source that a body names; raises Invalid when there is no such thing or it touched no lot."""
    origin = next(origin for origin, name in FIELDS.items() if facts[name] is not None)
    table, start = KINDS[origin]
    pointer = f"#/{FIELDS[origin]}"
    thing = session.get(table, facts[FIELDS[origin]])
    if thing is None:
        raise Invalid.at(pointer, f"There is no such {_word(origin)}.", code=f"unknown-{origin.value}")
    begun = start(session, thing, since)
    if not begun:
        raise Invalid.at(pointer, f"No lot is known to this {_word(origin)}.", code="nothing-to-recall")
    return Source(origin, thing, begun)


def begun_from(session: Session, origin: Origin, origin_id: str, since: datetime | None) -> Start:
    """The lots that a source is followed from by what is known now; none when its find was voided since."""
    table, start = KINDS[origin]
    return start(session, session.get_one(table, origin_id), since)


def _word(origin: Origin) -> str:
    return "live find" if origin is Origin.FIND else origin.value


def _from_lot(_session: Session, lot: Lot, since: datetime | None) -> Start:
    return {lot.id: since or lot.received_at}


def _from_find(session: Session, look: Inspection, since: datetime | None) -> Start:
    if look.clean or look.voided_at is not None:
        return {}
    about = {look.lot_id} if look.lot_id else lots_about(session, [look.id])
    return _each(session, Lot.id.in_(about), since)


def _from_complaint(session: Session, complaint: Complaint, since: datetime | None) -> Start:
    about = select(ComplaintLot.lot_id).where(ComplaintLot.complaint_id == complaint.id)
    return _each(session, Lot.id.in_(about), since)


def _each(session: Session, which: ColumnElement[bool], since: datetime | None) -> Start:
    rows = session.execute(select(Lot.id, Lot.received_at).where(which)).all()
    return {row.id: since or row.received_at for row in rows}


def _from_batch(session: Session, batch: StockBatch, since: datetime | None) -> Start:
    taken_back = select(StockEntry.reverses_id).where(StockEntry.reverses_id.is_not(None))
    draws = session.scalars(
        select(StockEntry).where(
            StockEntry.batch_id == batch.id, StockEntry.amount < 0, StockEntry.id.not_in(taken_back)
        )
    ).all()
    start: Start = {}
    for draw in draws:
        for lot_id, at in _treated(session, draw):
            if since is None or at >= since:
                start[lot_id] = min(start.get(lot_id, at), at)
    return start


def _treated(session: Session, draw: StockEntry) -> list[tuple[str, datetime]]:
    """The lots that a draw came to, and when: of its treatment, of the water, of every dip into its bath."""
    lots = select(TreatmentLot.lot_id).where(TreatmentLot.treatment_id == draw.treatment_id)
    found = [(lot_id, draw.at) for lot_id in session.scalars(lots)]
    if draw.cause_kind == "water_change":
        change = session.get_one(WaterChange, draw.cause_id)
        found += [(lot_id, change.at) for lot_id in lots_in(session, [change.tub_id], change.at)]
    if draw.cause_kind == "bath":
        dipped = (
            select(TreatmentLot.lot_id, TreatmentStep.started_at)
            .join(TreatmentStep, TreatmentStep.treatment_id == TreatmentLot.treatment_id)
            .where(TreatmentStep.bath_id == draw.cause_id)
        )
        found += [(row.lot_id, row.started_at or draw.at) for row in session.execute(dipped).all()]
    return found


def _from_supplier(session: Session, supplier: Supplier, since: datetime | None) -> Start:
    wanted = select(Lot.id, Lot.received_at).where(
        Lot.supplier_id == supplier.id, Lot.parent_lot_id.is_(None)
    )
    rows = session.execute(wanted if since is None else wanted.where(Lot.received_at >= since)).all()
    return {row.id: row.received_at for row in rows}


KINDS: Mapping[Origin, tuple[type[Any], Callable[[Session, Any, datetime | None], Start]]] = {
    Origin.LOT: (Lot, _from_lot),
    Origin.FIND: (Inspection, _from_find),
    Origin.COMPLAINT: (Complaint, _from_complaint),
    Origin.BATCH: (StockBatch, _from_batch),
    Origin.SUPPLIER: (Supplier, _from_supplier),
}
