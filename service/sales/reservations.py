"""Promising units of cleared lots to an order, and what becomes of the promise."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from service.core.errors import Invalid, NotFound, Refused
from service.core.jobs import owe
from service.core.reasons import Reason
from service.journal.actions import Note, record
from service.journal.acts import Act
from service.lots.actions import lock_water_group
from service.lots.models import Lot
from service.sales import rules_reservations as rules
from service.sales.item_queries import meant
from service.sales.models import Dispatch, Fulfilment, Reservation, ReservationLine
from service.sales.picking import Part, lock_for, pick
from service.sales.rules_reservations import LIVING, Status
from service.sales.whose import is_anothers

EXPIRE = "expire_reservation"
BY = "timetable"
Keyed = Callable[[str], str]
Lines = Sequence[ReservationLine]


def reserve(session: Session, act: Act, facts: Mapping[str, Any], keyed: Keyed) -> Reservation:
    """Promise units to an order, all lines or none; the same order asking for the same gets the same promise.

    `keyed` hides the customer's reference: personal data never enters the journal.
    """
    lines = meant(session, facts["lines"])
    lots = lock_for(session, act, lines)
    before = living_of_order(session, facts["order_ref"])
    if before is not None:
        if is_anothers(session, before.by, act.by):
            raise Refused(
                "order-reserved", "Somebody else has promised to an order of this reference. Use another."
            )
        return _same(before, facts)
    expires_at = facts["expires_at"] or act.now + rules.HOLDS_FOR
    _refuse_expiry(rules.expiry_reasons(expires_at, act.now))
    promised: Counter[str] = Counter()
    for lot_id, units in pick(session, act, lines, lots):
        promised[lot_id] += units
    made = Reservation(
        order_ref=facts["order_ref"],
        customer_ref=facts["customer_ref"],
        asked=facts["lines"],
        status=Status.OPEN.value,
        expires_at=expires_at,
        at=act.at,
        by=act.by,
    )
    session.add(made)
    session.flush()
    for lot_id, units in promised.items():
        lots[lot_id].reserved += units
        session.add(ReservationLine(reservation_id=made.id, lot_id=lot_id, quantity=units))
    owe(session, EXPIRE, made.id, expires_at, {"id": made.id})
    customer = keyed(facts["customer_ref"]) if facts["customer_ref"] else None
    given = [{"lot_id": lot_id, "quantity": units} for lot_id, units in promised.items()]
    after = {"order_ref": made.order_ref, "customer": customer, "lines": given, "expires_at": expires_at}
    record(session, act, "reservation.made", [made, *(lots[i] for i in sorted(promised))], after=after)
    return made


def confirm(session: Session, act: Act, reservation: Reservation) -> None:
    """The order is paid: the promise no longer runs out. Confirmed twice is confirmed."""
    if reservation.status == Status.CONFIRMED:
        return
    _become(reservation, Status.CONFIRMED)
    record(session, act, "reservation.confirmed", [reservation], after={"order_ref": reservation.order_ref})


def cancel(session: Session, act: Act, reservation: Reservation) -> None:
    """Take a promise back; raises Refused when it is over."""
    _end(session, act, reservation, Status.CANCELLED)


def expire(session: Session, payload: Mapping[str, Any], now: datetime) -> None:
    """Job: free what was promised for a time that has passed, unless it was confirmed or is over."""
    reservation = for_change(session, payload["id"])
    if reservation.status == Status.OPEN and (reservation.expires_at or now) <= now:
        _end(session, Act(BY, now, now), reservation, Status.EXPIRED)


def free_lots(session: Session, note: Note) -> None:
    """Reaction: nothing is promised of a lot whose certificate was revoked or that was destroyed."""
    for lot in [thing for thing in note.about if isinstance(thing, Lot)]:
        lines = session.scalars(_owed().where(ReservationLine.lot_id == lot.id)).all()
        for line in lines:
            reservation = _locked(session, line.reservation_id)
            units = _free(line)
            _settle(session, reservation)
            after = {"order_ref": reservation.order_ref, "lot_id": lot.id, "quantity": units}
            record(session, note.act, "reservation.freed", [reservation, lot], after=after)
        lot.reserved = 0


def promised_of(session: Session, reservation: Reservation) -> dict[str, int]:
    """What a promise still owes, by lot."""
    return {line.lot_id: _owes(line) for line in lines_of(session, reservation.id) if _owes(line)}


def fulfil(
    session: Session, reservation: Reservation, sent: Dispatch, parts: Sequence[Part], lots: Mapping[str, Lot]
) -> None:
    """Count what a dispatch sends of what was promised; the caller takes the units and writes the journal."""
    leaving: Counter[str] = Counter()
    for lot_id, units in parts:
        leaving[lot_id] += units
    for line in lines_of(session, reservation.id):
        units = min(_owes(line), leaving[line.lot_id])
        if units:
            line.sent += units
            lots[line.lot_id].reserved -= units
            session.add(Fulfilment(dispatch_id=sent.id, reservation_line_id=line.id, quantity=units))
    _settle(session, reservation)


def restore(session: Session, sent: Dispatch, lots: Mapping[str, Lot]) -> list[Reservation]:
    """A dispatch was taken back: what it sent of a promise is promised again, where it still may be sold.

    Gives the promises it touched; the caller has put the units back and writes the journal.
    """
    statement = (
        select(Fulfilment, ReservationLine)
        .join(ReservationLine, ReservationLine.id == Fulfilment.reservation_line_id)
        .where(Fulfilment.dispatch_id == sent.id)
    )
    touched: dict[str, Reservation] = {}
    for part, line in session.execute(statement.order_by(ReservationLine.id)).all():
        reservation = touched.setdefault(line.reservation_id, _locked(session, line.reservation_id))
        lot = lots[line.lot_id]
        line.sent -= part.quantity
        if lot.state == "cleared" and reservation.status in LIVING | {Status.FULFILLED}:
            lot.reserved += part.quantity
            if reservation.status == Status.FULFILLED:
                _become(reservation, Status.CONFIRMED)
        else:
            line.freed += part.quantity
    return list(touched.values())


def for_change(session: Session, reservation_id: str, asked_by: str | None = None) -> Reservation:
    """One promise that `asked_by` (None: the house) may see, locked after its lots; raises NotFound."""
    lines = lines_of(session, reservation_id)
    lock_water_group(session, sorted({line.lot_id for line in lines}))
    found = _locked(session, reservation_id)
    if asked_by is not None and is_anothers(session, found.by, asked_by):
        raise NotFound("reservation")
    lines_of(session, reservation_id)  # as they are now that nobody else can change them
    return found


def living_of_order(session: Session, order_ref: str) -> Reservation | None:
    """The open or confirmed promise to an order."""
    return session.scalars(
        select(Reservation).where(Reservation.order_ref == order_ref, Reservation.status.in_(sorted(LIVING)))
    ).one_or_none()


def lines_of(session: Session, reservation_id: str) -> Lines:
    """The lines of a promise, by lot."""
    return session.scalars(
        select(ReservationLine)
        .where(ReservationLine.reservation_id == reservation_id)
        .order_by(ReservationLine.lot_id)
        .execution_options(populate_existing=True)
    ).all()


def _refuse_expiry(reasons: Sequence[Reason]) -> None:
    if reasons:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)


def _same(before: Reservation, facts: Mapping[str, Any]) -> Reservation:
    if [_said(line) for line in before.asked] != [_said(line) for line in facts["lines"]]:
        detail = (
            f"Order {before.order_ref} has reserved something else. Cancel that, or use another reference."
        )
        raise Refused("order-reserved", detail, current_state=before.status)
    return before


def _said(line: Mapping[str, Any]) -> dict[str, Any]:
    # What was left out counts as not said: older rows lack members that came later.
    return {name: value for name, value in line.items() if value is not None}


def _end(session: Session, act: Act, reservation: Reservation, status: Status) -> None:
    _become(reservation, status)
    lots = {}
    for line in lines_of(session, reservation.id):
        lot = session.get_one(Lot, line.lot_id)  # locked by `for_change`
        units = _free(line)
        if units:
            lot.reserved -= units
            lots[lot.id] = units
    about = [reservation, *(session.get_one(Lot, lot_id) for lot_id in lots)]
    after = {"order_ref": reservation.order_ref, "freed": lots}
    record(session, act, f"reservation.{status.value}", about, after=after)


def _become(reservation: Reservation, status: Status) -> None:
    now = Status(reservation.status)
    Refused.unless_empty("reservation-over", rules.transition_reasons(now, status), current_state=now.value)
    reservation.status, reservation.expires_at = status.value, None


def _settle(session: Session, reservation: Reservation) -> None:
    session.flush()
    lines = [(line.quantity, line.sent, line.freed) for line in lines_of(session, reservation.id)]
    status = rules.settled(lines)
    if status is not None and reservation.status in LIVING:
        _become(reservation, status)


def _owes(line: ReservationLine) -> int:
    return line.quantity - line.sent - line.freed


def _free(line: ReservationLine) -> int:
    units = _owes(line)
    line.freed += units
    return units


def _owed() -> Select[ReservationLine]:
    owed = ReservationLine.quantity > ReservationLine.sent + ReservationLine.freed
    return select(ReservationLine).where(owed).order_by(ReservationLine.reservation_id)


def _locked(session: Session, reservation_id: str) -> Reservation:
    found = session.get(Reservation, reservation_id, with_for_update=True, populate_existing=True)
    if found is None:
        raise NotFound("reservation")
    return found
