"""How a supplier's lots came: their first look before any treatment, and what customers found later."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.catalogue.models import Plant
from service.inspections.queries import Look, looks_of
from service.lots.models import Lot
from service.quarantine.escapes import escaped_from
from service.quarantine.rules_suspects import SEALED
from service.treatments.models import Treatment, TreatmentLot


@dataclass(frozen=True)
class Arrival:
    """A lot as it came: its first look if it had one before it was treated, and pests that escaped in it."""

    lot_id: str
    lot_code: str
    received_at: datetime
    look_class: str
    look: Look | None
    escaped: frozenset[str]

    @property
    def found(self) -> frozenset[str]:
        """The pests that its first look found alive."""
        findings = self.look.findings if self.look else ()
        return frozenset(find.pest for find in findings if find.live > 0)


def arrivals(
    session: Session,
    supplier_id: str,
    *,
    until: datetime,
    at: datetime,
    most: int,
    without: str | None = None,
) -> list[Arrival]:
    """The newest lots a supplier sent up to `until`, as known `at` a moment; no parts split off."""
    rows = session.execute(
        select(Lot.id, Lot.code, Lot.received_at, Plant.look_class)
        .join(Plant, Plant.id == Lot.plant_id)
        .where(Lot.supplier_id == supplier_id, Lot.received_at <= until)
        .where(Lot.parent_lot_id.is_(None), Lot.returned_from_id.is_(None), Lot.id != without)
        .order_by(Lot.received_at.desc(), Lot.id)
        .limit(most)
    ).all()
    ids = [row.id for row in rows]
    if not ids:
        return []
    looks, begun, escaped = (
        looks_of(session, ids),
        _treated_since(session, ids),
        escaped_from(session, ids, at),
    )
    found = []
    for row in rows:
        known = [look for look in looks[row.id] if look.at <= at]
        first = first_untreated(known, begun.get(row.id))
        found.append(Arrival(*row, first, frozenset(escaped.get(row.id, ()))))
    return found


def first_untreated(looks: Sequence[Look], begun: datetime | None) -> Look | None:
    """The first of these looks if it came before the first treatment `begun` (None: there was none)."""
    return next(
        (look for look in looks if (begun is None or look.at < begun) and look.method != SEALED), None
    )


def _treated_since(session: Session, lot_ids: Sequence[str]) -> dict[str, datetime]:
    rows = session.execute(
        select(TreatmentLot.lot_id, Treatment.started_at)
        .join(Treatment, Treatment.id == TreatmentLot.treatment_id)
        .where(TreatmentLot.lot_id.in_(lot_ids), Treatment.started_at.is_not(None))
        .order_by(Treatment.started_at.desc())
    ).all()
    return {lot_id: started_at for lot_id, started_at in rows if started_at is not None}
