"""How likely it is that none of each pest is left in a lot: facts gathered, judged by the rules."""

from datetime import datetime
from functools import partial

from sqlalchemy.orm import Session

from service.catalogue.queries import pest_figures
from service.lots.models import Lot
from service.lots.queries import lineage
from service.quarantine.escapes import tallies
from service.quarantine.evidence import Evidence
from service.quarantine.records import records
from service.quarantine.rules_escapes import learnt
from service.quarantine.rules_freedom import Freedom, Known, Suspect, freedoms_of
from service.quarantine.rules_prior import Record
from service.quarantine.rules_suspects import Case, seen, suspects
from service.reference.loader import shipped
from service.reference.policies import Policy
from service.treatments.rules import killed_since


def freedoms(session: Session, found: Evidence, at: datetime, policy: Policy) -> list[Freedom]:
    """The chance for every pest that may be there, the lowest first; none while the clock has not started."""
    asked = asked_for(session, found, at, policy)
    return [] if asked is None else freedoms_of(*asked)


def asked_for(
    session: Session, found: Evidence, at: datetime, policy: Policy
) -> tuple[list[Suspect], Known] | None:
    """Pests that may be there, and the lot's time; None before the clock starts and for sealed cups."""
    started = found.clock.started_at
    if started is None or started > at or found.clock.sealed:
        return None
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
    detection = learnt(shipped().detection, tallies(session, at))
    return suspects(policy, pest_figures(session), detection, case), known


def _records(session: Session, lot: Lot, at: datetime) -> dict[str, Record]:
    """The record of the supplier's other lots."""
    chain = lineage(session, lot.id)
    own = chain[-1][0] if chain else lot.id
    return records(session, lot.supplier_id, until=lot.received_at, at=at, without=own)
