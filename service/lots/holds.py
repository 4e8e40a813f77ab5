"""Stopping a lot and letting it go on."""

from sqlalchemy.orm import Session

from service.core.errors import Refused
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.lots import queries, rules
from service.lots.actions import refuse
from service.lots.models import Hold, Lot
from service.lots.rules import State


def place_hold(session: Session, act: Act, lot: Lot, *, cause: str, reason: str) -> Hold:
    """Put a locked lot on hold; it keeps its state. Raises Refused when nothing of it is left."""
    refuse(lot, rules.ended_reasons(State(lot.state)))
    not_before(act.at, lot.received_at, "its receipt")
    hold = Hold(lot_id=lot.id, cause=cause, reason=reason, since=act.at, placed_by=act.by)
    session.add(hold)
    session.flush()
    record(session, act, "lot.held", [lot], after={"hold_id": hold.id, "cause": cause, "reason": reason})
    return hold


def lift_hold(session: Session, act: Act, lot: Lot, hold: Hold, *, reason: str) -> None:
    """Lift a hold of a locked lot, saying why; raises Refused when it is lifted already."""
    if hold.lifted_at is not None:
        raise Refused("hold-lifted", "This hold is lifted already.", current_state=lot.state)
    not_before(act.at, hold.since, "the hold itself")
    hold.lifted_at, hold.lifted_by, hold.lift_reason = act.at, act.by, reason
    session.flush()
    before = {"hold_id": hold.id, "cause": hold.cause}
    after = {"reason": reason, "state": lot.state, "still_held": bool(queries.hold_causes(session, lot.id))}
    record(session, act, "lot.hold_lifted", [lot], before=before, after=after)
