"""What every act on a lot is made of: locking its water, its state, its units, and its tub."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlalchemy.orm.exc import StaleDataError

from service.core.errors import NotFound, Refused
from service.core.reasons import Reason
from service.journal.actions import record, record_each
from service.journal.acts import Act
from service.lots import queries, rules
from service.lots.models import Lot
from service.lots.rules import Into, State
from service.lots.sharing import group_of
from service.lots.stays import enter_tub, leave_tub, vacate
from service.tubs.models import Tub

__all__ = [
    "enter_tub",
    "gain",
    "leave_tub",
    "lock_water_group",
    "lot_for_change",
    "put_back",
    "receive",
    "receive_each",
    "set_state",
    "take",
]


LOCKED = "locked tubs"


def lock_water_group(
    session: Session,
    lot_ids: Collection[str],
    tub_ids: Iterable[str] = (),
    *,
    since: datetime | None = None,
) -> list[Lot]:
    """Lock these lots and all in their water or in that of `tub_ids`, then the tubs, each by id.

    `since` (the moment of a late act) takes in lots that have left that water after it.
    Gives every locked lot, by id; raises NotFound, and StaleDataError when the group grew meanwhile.
    """
    named = set(tub_ids)
    wanted, water = group_of(session, lot_ids, named, since)
    if not wanted and not water:
        return []
    found = session.scalars(
        select(Lot)
        .where(Lot.id.in_(wanted))
        .order_by(Lot.id)
        .with_for_update()
        .execution_options(populate_existing=True)
    ).all()
    if not set(lot_ids) <= {lot.id for lot in found}:
        raise NotFound("lot")
    elsewhere = {lot.tub_id for lot in found if lot.tub_id} - water
    _lock_tubs(session, water | queries.water_of(session, elsewhere))
    # SQLite's one writer has waited for its turn before it read: nothing can have changed.
    one_writer = session.get_bind().dialect.name == "sqlite"
    if not one_writer and not group_of(session, lot_ids, named, since)[0] <= wanted:
        raise StaleDataError("Another lot came into this water at the same moment.")
    return list(found)


def lot_for_change(
    session: Session, lot_id: str, tub_ids: Iterable[str] = (), *, since: datetime | None = None
) -> Lot:
    """One lot, locked with its whole water group; raises NotFound."""
    found = lock_water_group(session, [lot_id], tub_ids, since=since)
    return next(lot for lot in found if lot.id == lot_id)


def receive(session: Session, act: Act, facts: Mapping[str, Any]) -> Lot:
    """A new lot, received at the moment of the act; `facts` are columns of Lot, `received` its units."""
    return receive_each(session, act, [facts])[0]


def receive_each(session: Session, act: Act, facts: Sequence[Mapping[str, Any]]) -> list[Lot]:
    """New lots, received at the moment of the act; `facts` are columns of Lot, `received` its units."""
    state = State.RECEIVED.value
    new = {"state": state, "state_since": act.at, "received_at": act.at, "parent_lot_id": None}
    lots = [Lot(left=known["received"], **new, **known) for known in facts]
    session.add_all(lots)
    told = [(lot, {"state": state, **known}) for lot, known in zip(lots, facts, strict=True)]
    record_each(session, act, "lot.received", told)
    return lots


def set_state(
    session: Session,
    act: Act,
    lot: Lot,
    to: State,
    *,
    why: str,
    certificate_serial: str | None = None,
    good_until: datetime | None = None,
    **evidence: Any,
) -> None:
    """The one setter of a lot's state; raises Refused when the move is not in TRANSITIONS.

    `cleared` needs the serial of its certificate and until when it is good; leaving it forgets all of it
    (the serial stays in the journal entry's `before`). An ended lot leaves its tub.
    """
    state = State(lot.state)
    Refused.unless_empty(
        "transition-not-allowed",
        rules.transition_reasons(state, to),
        current_state=state.value,
        allowed=rules.allowed_moves(state),
    )
    before = {"state": state.value, "certificate_serial": lot.certificate_serial}
    cleared = to is State.CLEARED
    lot.state, lot.state_since = to.value, act.at
    lot.decidable = False  # until the next projection finds it so, in quarantine
    lot.cleared_at = act.at if cleared else None
    lot.cleared_by = act.by if cleared else None
    lot.certificate_serial = certificate_serial if cleared else None
    lot.good_until = good_until if cleared else None
    if to in rules.ENDED:
        vacate(session, act.at, [lot])
    after = {"state": to.value, "why": why, "certificate_serial": lot.certificate_serial, **evidence}
    record(session, act, "lot.state_changed", [lot], before=before, after=after)


def take(
    session: Session,
    act: Act,
    lot: Lot,
    *,
    quantity: int,
    into: Into,
    kind: str | None = None,
    about: Sequence[Any] = (),
    after: Mapping[str, Any] | None = None,
) -> None:
    """The one way units leave a (locked) lot; it ends when nothing is left.

    `kind` writes the journal entry about the lot and `about`, before the lot ends; without it the
    caller writes one. Raises Refused `not-enough-left` (what is reserved cannot be taken).
    """
    reasons = rules.ended_reasons(State(lot.state)) or rules.take_reasons(
        quantity, left=lot.left, reserved=lot.reserved
    )
    refuse(lot, reasons)
    setattr(lot, into, getattr(lot, into) + quantity)
    lot.left -= quantity
    if kind is not None:
        record(
            session, act, kind, [lot, *about], after={"quantity": quantity, "left": lot.left, **(after or {})}
        )
    close_when_empty(session, act, lot, State.REJECTED if into == "disposed" else State.CLOSED)


def put_back(lot: Lot, *, quantity: int) -> None:
    """Undo a sale that was entered by mistake; the caller writes the journal. Raises Refused."""
    refuse(lot, rules.ended_reasons(State(lot.state)) or rules.put_back_reasons(quantity, lot.sold))
    lot.sold -= quantity
    lot.left += quantity


def gain(lot: Lot, *, units: int) -> None:
    """The one way a (locked) lot grows, or shrinks by a recount (negative); the caller writes the journal."""
    lot.gained += units
    lot.left += units


def close_when_empty(session: Session, act: Act, lot: Lot, to: State = State.CLOSED) -> None:
    """End a lot of which nothing is left."""
    if lot.left == 0:
        set_state(session, act, lot, to, why="Nothing is left.")


def refuse(lot: Lot, reasons: Sequence[Reason]) -> None:
    """Raise Refused with the first reason's code, the lot's state and the moves it allows."""
    if reasons:
        state = State(lot.state)
        Refused.unless_empty(
            reasons[0].code, reasons, current_state=state.value, allowed=rules.allowed_moves(state)
        )


def _lock_tubs(session: Session, tub_ids: Collection[str]) -> None:
    statement = select(Tub).where(Tub.id.in_(tub_ids)).order_by(Tub.id).with_for_update()
    if tub_ids:
        # Held, because a session forgets what nobody holds and would ask for each tub again.
        locked = session.scalars(statement.execution_options(populate_existing=True)).all()
        session.info[LOCKED] = locked
