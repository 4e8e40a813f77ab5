"""Sealed cups: from the look that finds every cup whole until somebody opens one."""

from sqlalchemy.orm import Session

from service.core.errors import Refused
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.lots.actions import set_state
from service.lots.models import Lot
from service.lots.rules import State


def seal(session: Session, act: Act, lot: Lot) -> None:
    """Keep that every cup of a locked lot was found whole; a received lot is in quarantine from then on."""
    lot.sealed_since = lot.sealed_since or act.at
    if lot.state == State.RECEIVED:
        set_state(session, act, lot, State.IN_QUARANTINE, why="All cups are sealed.")


def unseal(lot: Lot, act: Act) -> None:
    """Treat a locked lot as ordinary plants from the act on."""
    lot.sealed_since, lot.opened_at = None, act.at


def open_cups(session: Session, act: Act, lot: Lot, *, reason: str) -> None:
    """Open the cups of a locked lot: a cleared one goes back, and its certificates end by reaction.

    Raises Refused `not-sealed`.
    """
    if lot.sealed_since is None:
        raise Refused("not-sealed", "These are no sealed cups.", current_state=lot.state)
    not_before(act.at, max(lot.sealed_since, lot.state_since), "the look that found them sealed")
    unseal(lot, act)
    record(session, act, "lot.opened", [lot], after={"reason": reason})
    if lot.state == State.CLEARED:
        set_state(session, act, lot, State.IN_QUARANTINE, why=f"The cups were opened: {reason}")
