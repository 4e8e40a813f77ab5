"""Ordinary lots as the report of outcomes judges them; lots of trials are left out."""

from collections import defaultdict
from collections.abc import Collection, Sequence, Set
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.catalogue.models import Plant, Supplier
from service.clearance.models import Certificate
from service.core.among import among
from service.core.clock import day_start, local_day
from service.core.house import house
from service.inspections.queries import Look, looks_of, pests
from service.lots.models import Loss, Lot
from service.quarantine.arrivals import first_untreated
from service.reports.rules_outcomes import Lived, Outcome, OutcomesBy, month_of, outcomes
from service.stores.models import StockBatch, StockEntry
from service.treatments.models import TreatmentLot
from service.treatments.queries import treatment_facts
from service.treatments.rules import TreatmentFact
from service.trials.models import TrialUnit

MICRO_PER_MINOR = 10_000
FINISHED = "finished"
DAY = timedelta(days=1)


def report(session: Session, since: date, until: date, by: OutcomesBy) -> list[Outcome]:
    """The rows for lots received in these local days."""
    return outcomes(_lived(session, _lots(session, since, until)), by)


def _lots(session: Session, since: date, until: date) -> Sequence[Any]:
    zone = house(session).time_zone
    return session.execute(
        select(
            Lot.id,
            Lot.received,
            Lot.gained,
            Lot.split_off,
            Lot.received_at,
            Lot.parent_lot_id,
            Plant.scientific_name,
            Supplier.name,
        )
        .join(Plant, Plant.id == Lot.plant_id)
        .join(Supplier, Supplier.id == Lot.supplier_id)
        .where(Lot.received_at >= day_start(since, zone), Lot.received_at < day_start(until + DAY, zone))
        .where(Lot.id.not_in(select(TrialUnit.lot_id)), Lot.returned_from_id.is_(None))
        .order_by(Lot.received_at, Lot.id)
    ).all()


def _lived(session: Session, rows: Sequence[Any]) -> list[Lived]:
    """What became of each lot; parts split off are lots of their own. As many statements for any number."""
    zone, ids = house(session).time_zone, [row.id for row in rows]
    looks, treated = looks_of(session, ids), treatment_facts(session, ids)
    cleared, lost = _cleared(session, ids), _lost(session, ids)
    costs, resetting = _costs(session, ids), set(pests(session).resetting)
    found = []
    for row in rows:
        done = [fact for fact in treated[row.id] if fact.state == FINISHED]
        cost, currency = costs[row.id]
        at = cleared.get(row.id)
        found.append(
            Lived(
                lot_id=row.id,
                plant=row.scientific_name,
                supplier=row.name,
                month=month_of(local_day(row.received_at, zone)),
                protocols=tuple(f"{fact.protocol_code}/{fact.number}" for fact in done),
                pests=frozenset(pest for look in looks[row.id] for pest in _alive(look)),
                live_after=_after(looks[row.id], done),
                infested_on_arrival=None
                if row.parent_lot_id
                else _arrival(looks[row.id], treated[row.id], resetting),
                days_to_release=None if at is None else (at - row.received_at).total_seconds() / 86400,
                units=row.received + row.gained - row.split_off,
                lost=lost[row.id],
                cost_micro=cost,
                currency=currency,
            )
        )
    return found


def _alive(look: Look) -> set[str]:
    return {find.pest for find in look.findings if find.live}


def _after(looks: Sequence[Look], done: Sequence[TreatmentFact]) -> frozenset[str] | None:
    ends = [fact.ended_at for fact in done if fact.ended_at is not None]
    since = [look for look in looks if ends and look.at > max(ends)]
    return frozenset(pest for look in since for pest in _alive(look)) if since else None


def _arrival(looks: Sequence[Look], treated: Sequence[TreatmentFact], pests: Set[str]) -> bool | None:
    begun = min((fact.started_at for fact in treated if fact.started_at is not None), default=None)
    first = first_untreated(looks, begun)
    return None if first is None else bool(_alive(first) & pests)


def _cleared(session: Session, ids: Collection[str]) -> dict[str, datetime]:
    first = func.min(Certificate.issued_at, type_=Certificate.issued_at.type)
    rows = session.execute(
        select(Certificate.lot_id, first).where(among(Certificate.lot_id, ids)).group_by(Certificate.lot_id)
    )
    return {row[0]: row[1] for row in rows}


def _lost(session: Session, ids: Collection[str]) -> dict[str, dict[str, int]]:
    rows = session.execute(
        select(Loss.lot_id, Loss.cause, func.sum(Loss.quantity))
        .where(among(Loss.lot_id, ids))
        .group_by(Loss.lot_id, Loss.cause)
    )
    found: dict[str, dict[str, int]] = defaultdict(dict)
    for lot_id, cause, many in rows:
        found[lot_id][cause] = int(many)
    return {lot_id: found[lot_id] for lot_id in ids}


def _costs(session: Session, ids: Collection[str]) -> dict[str, tuple[int | None, str | None]]:
    """Each lot's equal part of what its treatments drew; reversed lines cancel out.

    A part split off since carries nothing of it: the units of both stand below the same sum.
    """
    own: dict[str, list[str]] = {lot_id: [] for lot_id in ids}
    rows = session.execute(
        select(TreatmentLot.lot_id, TreatmentLot.treatment_id).where(among(TreatmentLot.lot_id, ids))
    )
    for lot_id, treatment_id in rows:
        own[lot_id].append(treatment_id)
    treatments = {treatment_id for found in own.values() for treatment_id in found}
    drawn = _drawn(session, treatments)
    return {lot_id: _sum([drawn[treatment_id] for treatment_id in found]) for lot_id, found in own.items()}


def _drawn(session: Session, ids: Collection[str]) -> dict[str, tuple[int | None, str | None]]:
    """What each treatment drew, in equal parts for its lots."""
    counted = session.execute(
        select(TreatmentLot.treatment_id, func.count())
        .where(among(TreatmentLot.treatment_id, ids))
        .group_by(TreatmentLot.treatment_id)
    )
    lots = {row[0]: int(row[1]) for row in counted}
    lines: dict[str, list[Any]] = defaultdict(list)
    for row in session.execute(
        select(
            StockEntry.treatment_id,
            StockEntry.amount,
            StockBatch.received,
            StockBatch.cost_minor,
            StockBatch.currency,
        )
        .join(StockBatch, StockBatch.id == StockEntry.batch_id)
        .where(among(StockEntry.treatment_id, ids))
    ):
        lines[str(row.treatment_id)].append(row)
    return {id_: _cost(lines[id_], lots[id_]) for id_ in ids}


def _cost(lines: Sequence[Any], lots: int) -> tuple[int | None, str | None]:
    currencies = {line.currency for line in lines}
    if not lines:
        return 0, None
    if len(currencies) > 1 or any(line.cost_minor is None for line in lines):
        return None, None
    total = sum(-line.amount * line.cost_minor * MICRO_PER_MINOR / line.received for line in lines)
    return round(total / lots), currencies.pop()


def _sum(parts: Sequence[tuple[int | None, str | None]]) -> tuple[int | None, str | None]:
    currencies = {currency for _, currency in parts if currency is not None}
    known = [cost for cost, _ in parts if cost is not None]
    if len(known) < len(parts) or len(currencies) > 1:
        return None, None
    return sum(known), next(iter(currencies), None)
