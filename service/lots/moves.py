"""Moving a lot to another tub, or a cleared one back to quarantine."""

from dataclasses import replace

from sqlalchemy.orm import Session

from service.core.errors import Invalid, Refused
from service.core.reasons import Reason
from service.journal.acts import Act
from service.lots import queries, rules
from service.lots.actions import enter_tub, refuse, set_state
from service.lots.models import Lot
from service.lots.rules import State
from service.tubs.models import Tub


def move(
    session: Session,
    act: Act,
    lot: Lot,
    *,
    to: str | None,
    tub_id: str | None,
    share_water: bool,
    reason: str | None,
) -> None:
    """Move a locked lot; `to` is its present state (another tub) or, from cleared, in_quarantine.

    Raises Refused naming the right address for other states, Invalid without a tub or a reason.
    """
    state = State(lot.state)
    target = to or state.value
    refuse(lot, rules.move_reasons(state, target))
    refuse(lot, rules.lock_reasons(regulated_lock=lot.regulated_lock))
    tub = named_tub(session, tub_id)
    if target != state:
        if not reason:
            raise Invalid.at("#/reason", "Say why a cleared lot goes back.", code="reason-missing")
        set_state(session, act, lot, State(target), why=reason)
    elif tub is None:
        raise Invalid.at("#/tub_id", "Say which tub the lot moves to.", code="tub-missing")
    if tub is not None:
        refuse(lot, _hold_reasons(session, lot, tub))
        enter_tub(session, act, [lot], tub, share_water=share_water)


def move_all(session: Session, act: Act, tub: Tub, to: Tub, *, share_water: bool) -> list[Lot]:
    """Move all lots of a tub to another in one act, their water group locked; gives them.

    All or none: raises Refused naming each lot that may not go, or when there is none.
    """
    lots = queries.lots_in_tub(session, tub.id)
    if not lots:
        raise Refused("tub-empty", f"There is no lot in {tub.code}.")
    reasons = [
        replace(reason, detail=f"{lot.code}: {reason.detail}")
        for lot in lots
        for reason in (*rules.move_reasons(State(lot.state), lot.state), *_hold_reasons(session, lot, to))
    ]
    Refused.unless_empty(reasons[0].code if reasons else "", reasons)
    enter_tub(session, act, lots, to, share_water=share_water)
    return lots


def named_tub(session: Session, tub_id: str | None, pointer: str = "#/tub_id") -> Tub | None:
    """The tub that a body names, None when it names none; raises Invalid when there is no such tub."""
    found = session.get(Tub, tub_id) if tub_id else None
    if tub_id and found is None:
        raise Invalid.at(pointer, "There is no such tub.", code="unknown-tub")
    return found


def _hold_reasons(session: Session, lot: Lot, tub: Tub) -> list[Reason]:
    causes = queries.hold_causes(session, lot.id)
    # What is held may still be isolated.
    if causes and all(other is lot for other in queries.water_group(session, [tub.id])):
        causes = []
    return rules.stop_reasons(causes, regulated_lock=lot.regulated_lock)
