"""Reading quarantine: policies, the projection of lots, and whether what is stored is still true."""

from collections.abc import Collection, Sequence
from datetime import date, datetime

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from service.core.clock import first_day_after
from service.core.errors import NotFound
from service.core.house import house
from service.lots.models import Lot, Stay
from service.lots.queries import contacts_of, stays_of
from service.lots.rules import ENDED
from service.quarantine.evidence import Evidence, clocks, evidence
from service.quarantine.freedom import freedoms
from service.quarantine.models import Policy
from service.quarantine.rules_freedom import Outlook, outlook_of
from service.quarantine.rules_release import Projection
from service.quarantine.water import meetings, reached_by_tools
from service.reference import policies as reference
from service.reference.shape import Place, read_table

STANDARD = "standard"
LIVING = Lot.state.not_in([state.value for state in ENDED])


def policy(session: Session, code: str = STANDARD, number: int | None = None) -> Policy:
    """A version of a policy, the newest unless numbered; raises NotFound."""
    wanted = select(Policy).where(Policy.code == code).order_by(Policy.number.desc()).limit(1)
    found = session.scalars(wanted if number is None else wanted.where(Policy.number == number)).first()
    if found is None:
        raise NotFound("policy")
    return found


def policies_in_force(session: Session) -> list[reference.Policy]:
    """The figures of the newest version of every policy, the house's own included, by code."""
    newest: dict[str, Policy] = {}
    for found in session.scalars(select(Policy).order_by(Policy.code, Policy.number)):
        newest[found.code] = found
    return [figures(found) for found in newest.values()]


def figures(found: Policy) -> reference.Policy:
    """The figures of a policy version."""
    return read_table(reference.Policy, found.content, Place("policy", found.code))


def projection(session: Session, lots: Sequence[Lot], now: datetime) -> dict[str, Evidence]:
    """What is known of each lot under the standard policy, and so when it can be released."""
    return evidence(session, lots, now, figures(policy(session)))


def release_day(session: Session, found: Projection, outlook: Outlook = Outlook.ENOUGH) -> date | None:
    """The first local day that starts after the computed moment; none when waiting cannot clear the lot."""
    if found.release_at is None or outlook is Outlook.NEVER:
        return None
    return first_day_after(found.release_at, house(session).time_zone)


def lots_ever_in(session: Session, tub_ids: Collection[str]) -> list[str]:
    """Ids of the living lots that stand or stood in these tubs."""
    stayed = select(Stay.lot_id).where(Stay.tub_id.in_(tub_ids))
    wanted = select(Lot.id).where(or_(Lot.tub_id.in_(tub_ids), Lot.id.in_(stayed)), LIVING)
    return list(session.scalars(wanted.order_by(Lot.id)))


def within_reach(session: Session, lots: Sequence[Lot]) -> set[str]:
    """Ids of all lots whose clock a find in `lots` may move: those that ever got water of theirs."""
    ids = [lot.id for lot in lots]
    met = meetings(session, stays_of(session, ids), contacts_of(session, ids))
    return reached_by_tools(session, ids) | {meeting.other_id for found in met.values() for meeting in found}


def restarted(session: Session, lots: Sequence[Lot], at: datetime) -> set[str]:
    """Ids of the lots whose clock, by the facts, starts anew at or after a moment, other than stored."""
    fresh = clocks(session, lots, figures(policy(session)))
    return {
        lot.id
        for lot in lots
        for started in [fresh[lot.id].started_at]
        if started != lot.clock_started_at and (started is None or started >= at)
    }


def projection_differs(session: Session, now: datetime) -> list[str]:
    """Codes of the living lots whose stored projection is not what the facts give for its moment.

    A projection that is marked stale is expected to differ; `now` stands in where none was stored yet.
    """
    lots = session.scalars(select(Lot).where(LIVING, Lot.release_day_stale.is_(False)).order_by(Lot.id)).all()
    moments = {lot.release_day_computed_at or now for lot in lots}
    fresh = {
        moment: projection(session, [lot for lot in lots if lot.release_day_computed_at == moment], moment)
        for moment in moments
    }
    return [
        lot.code
        for lot in lots
        if _stored(lot) != columns(session, fresh[lot.release_day_computed_at or now][lot.id], now)
    ]


Columns = tuple[datetime | None, date | None, datetime | None, bool]


def columns(session: Session, known: Evidence, now: datetime) -> Columns:
    """What is stored of a projection: clock, release day, next look, whether it can be decided.

    The chance that none is left is asked for where it can change something: when all else is over, and when
    something was found (it may hide too well ever to be waited out).
    """
    lot, found = known.lot, known.projection
    moment = lot.release_day_computed_at or now
    over = lot.state == "in_quarantine" and found.decidable(moment)
    outlook, next_look_at = Outlook.ENOUGH, found.next_look_at
    if over or any(not look.clean for look in known.looks):
        rules = figures(policy(session))
        outlook = outlook_of(freedoms(session, known, moment, rules), rules.freedom.target)
    if over and outlook is Outlook.MORE_LOOKS:
        next_look_at = max(known.counted) + known.wait.looks.apart
    day = release_day(session, found, outlook)
    return found.clock_started_at, day, next_look_at, over and outlook is Outlook.ENOUGH


def _stored(lot: Lot) -> Columns:
    return lot.clock_started_at, lot.release_day, lot.next_look_at, lot.decidable
