"""Everything that the quarantine of lots is judged by, gathered for many lots in few statements."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.catalogue.models import Plant, Supplier
from service.catalogue.queries import pest_figures
from service.inspections.queries import Look, looks_of
from service.inspections.rules import units_of
from service.lots.models import Lot, Stay
from service.lots.queries import contacts_of, stays_of
from service.lots.rules_strata import is_spread, kinds
from service.quarantine.rules import ADULT_METHODS, Clock, ClockFacts, FindNearby, Kill, clock
from service.quarantine.rules_looks import look_counts, since_warm_gap, units_needed
from service.quarantine.rules_release import Log, Projection, Wait, project
from service.quarantine.rules_wait import PlantFacts, hardest, wait
from service.quarantine.water import Meeting, meetings
from service.reference.loader import shipped
from service.reference.policies import Policy
from service.science.development import Reading
from service.treatments.queries import treatment_facts
from service.treatments.rules import TreatmentFact, adult_step_ended_at, adults_credited_at, soaks
from service.tubs.models import Tub
from service.tubs.queries import forecasts_c, readings_since

FLANK = timedelta(hours=30)  # a reading so long before the clock's start may still speak for it


@dataclass(frozen=True)
class Evidence:
    """What is known of one lot, and what follows from it; `valid` are the looks no warm gap made void."""

    lot: Lot
    treatments: Sequence[TreatmentFact]
    looks: Sequence[Look]
    stays: Sequence[Stay]
    counted: Sequence[datetime]
    facts: ClockFacts
    clock: Clock
    wait: Wait
    projection: Projection
    log: Log
    plant: PlantFacts
    valid: frozenset[datetime]
    nights: Sequence[datetime]
    judged_at: datetime


def clocks(session: Session, lots: Sequence[Lot], policy: Policy) -> dict[str, Clock]:
    """The clock of each lot, from facts."""
    return {lot_id: clock(facts.clock) for lot_id, facts in _clock_facts(session, lots, policy).items()}


def evidence(session: Session, lots: Sequence[Lot], at: datetime, policy: Policy) -> dict[str, Evidence]:
    """The evidence about each lot under a policy, as judged at a moment."""
    facts, plants = _clock_facts(session, lots, policy, at), _plants(session, lots)
    stays, pests = {lot_id: known.stays for lot_id, known in facts.items()}, pest_figures(session)
    started = {lot.id: clock(facts[lot.id].clock) for lot in lots}
    logs = _logs(session, lots, stays, started, at)
    found = {}
    for lot in lots:
        known = facts[lot.id]
        waited = _waited(policy, pests, plants[lot.id], known, treated=started[lot.id].treated)
        valid = _valid([look.at for look in known.looks if look.at <= at], logs[lot.id], policy)
        counted = [look.at for look in known.looks if look.at in valid and _counts(look, waited, lot)]
        nights = [look.at for look in known.looks if look.at in valid and _by_night(look)]
        projection = project(
            started[lot.id],
            waited,
            logs[lot.id],
            counted,
            repacked_at=lot.repacked_at,
            now=at,
            nights=nights,
        )
        found[lot.id] = Evidence(
            lot,
            known.treatments,
            known.looks,
            stays[lot.id],
            counted,
            known.clock,
            started[lot.id],
            waited,
            projection,
            logs[lot.id],
            plants[lot.id],
            valid,
            nights,
            at,
        )
    return found


def _waited(
    policy: Policy, pests: Mapping[str, Any], plant: PlantFacts, known: "_Facts", *, treated: bool
) -> Wait:
    spells = [spell for fact in known.treatments for spell in soaks(fact)]
    return wait(policy, pests, plant, known.findings, spells, treated=treated, detection=shipped().detection)


@dataclass(frozen=True)
class _Facts:
    clock: ClockFacts
    treatments: Sequence[TreatmentFact]
    looks: Sequence[Look]
    stays: Sequence[Stay]
    findings: Sequence[tuple[str, str, int]]  # pest, stage, live; of the lot and of finds that reach it


def _clock_facts(
    session: Session, lots: Sequence[Lot], policy: Policy, at: datetime | None = None
) -> dict[str, _Facts]:
    ids = [lot.id for lot in lots]
    stays, contacts = stays_of(session, ids), contacts_of(session, ids)
    met = meetings(session, stays, contacts)
    others = {meeting.other_id for found in met.values() for meeting in found}
    looks = looks_of(session, {*ids, *others}, stays)
    treatments = treatment_facts(session, ids)
    found = {}
    for lot in lots:
        own, near = looks[lot.id], _nearby(met[lot.id], looks)
        known = ClockFacts(
            received_at=lot.opened_at or lot.received_at,
            kills=[kill for fact in treatments[lot.id] for kill in _kills(fact, policy)],
            finds=[look.at for look in own if not look.clean],
            nearby=[find for find, _ in near],
            contacts=[contact.at for contact in contacts[lot.id]],
            adult_looks=[look.at for look in own if _for_adults(look) and (at is None or look.at <= at)],
            sealed_since=lot.sealed_since,
        )
        seen = [find for look in [*own, *(look for _, look in near)] for find in look.findings]
        findings = [(find.pest, find.stage, find.live) for find in seen]
        found[lot.id] = _Facts(known, treatments[lot.id], own, stays[lot.id], findings)
    return found


def _kills(fact: TreatmentFact, policy: Policy) -> list[Kill]:
    steps = {step["n"] for step in fact.content["steps"] if step.get("kills_adults")}
    if not any(step.n in steps and step.started_at for step in fact.steps):
        return []
    pests, grades = policy.scope.pests, policy.kill_credit.adult_kill_grades
    ended = adult_step_ended_at(fact, pests=pests, grades=grades) or fact.ended_at
    return [Kill(fact.protocol_code, ended, adults_credited_at(fact, pests=pests, grades=grades))]


def _for_adults(look: Look) -> bool:
    return look.clean and look.method in ADULT_METHODS


def _by_night(look: Look) -> bool:
    return look.clean and look.method == "bait_night"


def _nearby(met: Sequence[Meeting], looks: Mapping[str, Sequence[Look]]) -> list[tuple[FindNearby, Look]]:
    return [
        (FindNearby(look.at, min(look.at, meeting.until)), look)
        for meeting in met
        for look in looks[meeting.other_id]
        if not look.clean and meeting.since <= look.at
    ]


def _valid(looks: Sequence[datetime], log: Log, policy: Policy) -> frozenset[datetime]:
    longest = timedelta(days=policy.looks.void_after_gap_days)
    return frozenset(since_warm_gap(looks, longest, log.readings, policy.looks.void_from_c))


def _counts(look: Look, waited: Wait, lot: Lot) -> bool:
    units, plan = look.lot_size or 0, waited.looks
    if not (look.clean and look_counts(look.method, look.sample_size, units, full=look.full, plan=plan)):
        return False
    if look.full or look.method in ADULT_METHODS:
        return True
    each = units_of(1, lot.unit_of_sale, lot.stems_per_bunch, untied=lot.untied)
    return is_spread(dict(look.strata), lot.strata, units_needed(units, plan), each)


def _plants(session: Session, lots: Sequence[Lot]) -> dict[str, PlantFacts]:
    of_lot = {lot.id: kinds(lot.plant_id, lot.strata) for lot in lots}
    wanted = {plant for plants in of_lot.values() for plant in plants}
    plants = select(Plant.id, Plant.look_class).where(Plant.id.in_(wanted))
    look_class = {row.id: row.look_class for row in session.execute(plants)}
    suppliers = select(Supplier.id, Supplier.outdoor_grown).where(
        Supplier.id.in_({lot.supplier_id for lot in lots})
    )
    outdoor = {row.id: row.outdoor_grown for row in session.execute(suppliers)}
    return {
        lot.id: PlantFacts(
            hardest([look_class[plant] for plant in of_lot[lot.id]], shipped().detection),
            lot.unit_of_sale,
            kept_in_wool=lot.kept_in_wool,
            outdoor=outdoor[lot.supplier_id],
            opened_cups=lot.opened_at is not None,
        )
        for lot in lots
    }


def _logs(
    session: Session,
    lots: Sequence[Lot],
    stays: Mapping[str, Sequence[Stay]],
    started: Mapping[str, Clock],
    at: datetime,
) -> dict[str, Log]:
    """Each lot's log along its stays; the readings of a tub are read once for all its lots."""
    since: dict[str, datetime] = {}
    for lot in lots:
        for stay in stays[lot.id]:
            start = started[lot.id].started_at
            if start is not None and (stay.left_at is None or stay.left_at > start):
                since[stay.tub_id] = min(start, since.get(stay.tub_id, start))
    of_tub = readings_since(session, {tub_id: start - FLANK for tub_id, start in since.items()}, at)
    expected = _forecasts(session, {lot.tub_id for lot in lots if lot.tub_id}, at)
    return {
        lot.id: Log(_along(stays[lot.id], of_tub), expected.get(lot.tub_id) if lot.tub_id else None)
        for lot in lots
    }


def _along(stays: Sequence[Stay], of_tub: Mapping[str, Sequence[Reading]]) -> list[Reading]:
    return [
        reading
        for stay in stays
        for reading in of_tub.get(stay.tub_id, ())
        if stay.entered_at <= reading.at and (stay.left_at is None or reading.at <= stay.left_at)
    ]


def _forecasts(session: Session, tub_ids: Collection[str], at: datetime) -> dict[str, Any]:
    tubs = session.scalars(select(Tub).where(Tub.id.in_(tub_ids))).all()
    return forecasts_c(session, tubs, at)
