"""The tubs of the next weeks: what stands in them until when, and what is expected."""

from collections import defaultdict
from datetime import date, datetime
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.catalogue.models import Supplier
from service.core.clock import local_day
from service.core.house import house
from service.intake.models import Shipment, ShipmentLine
from service.lots.models import Lot
from service.lots.rules import ENDED, State, UnitOfSale
from service.reports.rules_tubs import Coming, Taken, tub_weeks, tubs_for
from service.tubs.models import Tub

LIVING = Lot.state.not_in([state.value for state in ENDED])


def tub_forecast(session: Session, now: datetime, weeks: int) -> list[dict[str, Any]]:
    """Tubs needed against free, a row a week, the present one first."""
    today = local_day(now, house(session).time_zone)
    tubs = session.scalar(select(func.count()).select_from(Tub).where(Tub.active)) or 0
    coming = [_without_tub(session, today), *_expected(session, today)]
    return [
        {**vars(week), "missing": week.missing}
        for week in tub_weeks(tubs, _taken(session), coming, today, weeks)
    ]


def _taken(session: Session) -> list[Taken]:
    rows = session.execute(
        select(Lot.tub_id, Lot.state, Lot.release_day)
        .join(Tub, Tub.id == Lot.tub_id)
        .where(LIVING, Tub.active)
    ).all()
    until: dict[str, list[date | None]] = defaultdict(list)
    for row in rows:
        until[row.tub_id].append(row.release_day if row.state == State.IN_QUARANTINE else None)
    return [Taken(_last(days)) for days in until.values()]


def _last(days: list[date | None]) -> date | None:
    known = [day for day in days if day is not None]
    return max(known) if len(known) == len(days) else None


def _without_tub(session: Session, today: date) -> Coming:
    """Lots that were received and stand nowhere yet; sealed cups need no tub, cleared plants have left it."""
    rows = session.execute(
        select(Lot.shipment_id, Lot.bag).where(
            Lot.tub_id.is_(None),
            Lot.sealed_since.is_(None),
            Lot.state.in_([State.RECEIVED.value, State.IN_QUARANTINE.value]),
        )
    ).all()
    bags: dict[str, list[str | None]] = defaultdict(list)
    for row in rows:
        bags[row.shipment_id].append(row.bag)
    return Coming(today, sum(tubs_for(found) for found in bags.values()))


def _expected(session: Session, today: date) -> list[Coming]:
    rows = session.execute(
        select(
            Shipment.id,
            Shipment.expected_on,
            ShipmentLine.details,
            ShipmentLine.unit_of_sale,
            Supplier.in_vitro,
        )
        .join(ShipmentLine, ShipmentLine.shipment_id == Shipment.id)
        .join(Supplier, Supplier.id == Shipment.supplier_id)
        .where(Shipment.received_at.is_(None))
    ).all()
    bags: dict[tuple[str, date], list[str | None]] = defaultdict(list)
    for row in rows:
        sealed = row.in_vitro and row.unit_of_sale == UnitOfSale.CUP
        if not sealed:
            bags[row.id, row.expected_on or today].append(row.details["bag"])
    return [Coming(on, tubs_for(found)) for (_, on), found in bags.items()]
