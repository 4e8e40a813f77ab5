"""How likely it is that none of each pest is left in a lot: facts gathered, judged by the rules."""

from collections.abc import Sequence
from datetime import datetime
from functools import partial

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.catalogue.models import Plant
from service.catalogue.queries import pest_figures
from service.inspections.queries import looks_of
from service.lots.models import Lot
from service.quarantine.evidence import Evidence
from service.quarantine.rules_freedom import Freedom, Known, freedom_of
from service.quarantine.rules_suspects import Case, Record, arrival_record, seen, suspects
from service.reference.loader import shipped
from service.reference.policies import Policy
from service.treatments.models import Treatment, TreatmentLot
from service.treatments.rules import killed_since

MOST_ARRIVALS = 50  # the newest; a supplier changes


def freedoms(session: Session, found: Evidence, at: datetime, policy: Policy) -> list[Freedom]:
    """The chance for every pest that may be there, the lowest first; none while the clock has not started."""
    started = found.clock.started_at
    if started is None or started > at:
        return []
    looks = [look for look in found.looks if look.at <= at]
    grades = policy.kill_credit.freedom_kill_grades
    case = Case(
        plant=found.plant,
        received_at=found.lot.received_at,
        looks=looks,
        kill_since=partial(killed_since, found.treatments, grades=grades),
        records=_records(session, found.lot, at),
    )
    known = Known(
        clock_started_at=started,
        looks=[look for look in seen(looks) if look.at in found.valid],
        readings=found.log.readings,
        half_credit=found.wait.half_credit,
        now=at,
    )
    asked = suspects(policy, pest_figures(session), shipped().detection, case)
    return sorted((freedom_of(suspect, known) for suspect in asked), key=lambda judged: judged.probability)


def _records(session: Session, lot: Lot, at: datetime) -> dict[str, Record]:
    """For each pest, how the supplier's other lots came, by their first look before any treatment."""
    rows = session.execute(
        select(Lot.id, Lot.received_at, Plant.look_class)
        .join(Plant, Plant.id == Lot.plant_id)
        .where(Lot.supplier_id == lot.supplier_id, Lot.id != lot.id, Lot.received_at <= lot.received_at)
        .order_by(Lot.received_at.desc(), Lot.id)
        .limit(MOST_ARRIVALS)
    ).all()
    looks = looks_of(session, [row.id for row in rows])
    begun = _treated_since(session, [row.id for row in rows])
    arrivals = []
    for row in rows:
        known = [look for look in looks[row.id] if look.at <= at]
        before = [look for look in known if row.id not in begun or look.at < begun[row.id]]
        if before:
            arrivals.append((row.look_class, before[0]))
    seen_pests = {find.pest for _, look in arrivals for find in look.findings} | set(pest_figures(session))
    return {pest: arrival_record(arrivals, pest, shipped().detection) for pest in seen_pests}


def _treated_since(session: Session, lot_ids: Sequence[str]) -> dict[str, datetime]:
    rows = session.execute(
        select(TreatmentLot.lot_id, Treatment.started_at)
        .join(Treatment, Treatment.id == TreatmentLot.treatment_id)
        .where(TreatmentLot.lot_id.in_(lot_ids), Treatment.started_at.is_not(None))
        .order_by(Treatment.started_at.desc())
    ).all()
    return {lot_id: started_at for lot_id, started_at in rows if started_at is not None}
