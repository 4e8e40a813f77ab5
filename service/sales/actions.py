"""Sending plants to customers, and taking back an entry made by mistake."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.catalogue.models import Plant
from service.clearance.actions import end_parcel
from service.core.errors import Invalid, NotFound, Refused
from service.core.house import house
from service.core.reasons import Reason
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.journal.rules import plain
from service.lots.actions import lock_water_group, put_back, take
from service.lots.models import Lot
from service.lots.rules_strata import kinds
from service.sales import reservations
from service.sales.item_queries import meant
from service.sales.models import Dispatch, DispatchLine, Reservation
from service.sales.picking import Asked, lock_for, pick
from service.sales.queries import lines_of
from service.sales.returns import returned_of
from service.sales.rules_destinations import destination_reasons
from service.sales.rules_reservations import LIVING

Keyed = Callable[[str], str]


def dispatch(session: Session, act: Act, facts: Mapping[str, Any], keyed: Keyed) -> Dispatch:
    """Send units of cleared lots to one order, all lines or none; of a reservation in full or in part.

    Without lines everything that the reservation still owes is sent. `keyed` hides the customer's
    reference: personal data never enters the journal.
    """
    promise, lines, lots = _asked(session, act, facts)
    promised = {} if promise is None else reservations.promised_of(session, promise)
    parts = pick(session, act, lines, lots, promised)
    _refuse_destination(session, facts["ship_to"], [lots[lot_id] for lot_id, _ in parts])
    sent = Dispatch(
        order_ref=facts["order_ref"],
        customer_ref=facts["customer_ref"],
        at=act.at,
        recorded_at=act.now,
        by=act.by,
        pack_check=plain(facts["pack_check"]),
        registration_number=_registration(session) if facts["with_registration"] else None,
    )
    session.add(sent)
    session.flush()
    for n, (lot_id, quantity) in enumerate(parts, 1):
        session.add(DispatchLine(dispatch_id=sent.id, n=n, lot_id=lot_id, quantity=quantity))
    if promise is not None:
        reservations.fulfil(session, promise, sent, parts, lots)
    after = {
        "order_ref": facts["order_ref"],
        "customer": keyed(facts["customer_ref"]) if facts["customer_ref"] else None,
        "lines": [{"lot_id": lot_id, "quantity": quantity} for lot_id, quantity in parts],
        "reservation_id": None if promise is None else promise.id,
        "ship_to": facts["ship_to"],
    }
    leaving = [lots[lot_id] for lot_id in sorted({lot_id for lot_id, _ in parts})]
    record(session, act, "dispatch.made", [sent, *leaving, *([promise] if promise else [])], after=after)
    for lot_id, quantity in parts:
        take(session, act, lots[lot_id], quantity=quantity, into="sold")
    return sent


def dispatch_for_change(session: Session, dispatch_id: str) -> Dispatch:
    """One dispatch, locked after the lots of its lines, as everything is; raises NotFound."""
    lock_water_group(session, sorted({line.lot_id for line in lines_of(session, dispatch_id)}))
    found = session.get(Dispatch, dispatch_id, with_for_update=True)
    if found is None:
        raise NotFound("dispatch")
    return found


def reverse(session: Session, act: Act, sent: Dispatch, *, reason: str) -> None:
    """Take back a locked dispatch that was entered by mistake; what it sent of a promise is promised again.

    Raises Refused when done already, when some came back, or when a lot has ended.
    """
    if sent.reversed_at is not None:
        raise Refused("already-reversed", "This dispatch was taken back before.")
    not_before(act.at, sent.at, "the dispatch")
    if returned_of(session, sent.id):
        raise Refused("has-returns", "Some of it came back: it was sent, so it cannot have been a mistake.")
    lines = lines_of(session, sent.id)
    lots = {line.lot_id: session.get_one(Lot, line.lot_id) for line in lines}
    for line in lines:
        put_back(lots[line.lot_id], quantity=line.quantity)
        end_parcel(
            session, act, lots[line.lot_id], sent.id, "The parcel came to nothing: its dispatch was reversed."
        )
    promises = reservations.restore(session, sent, lots)
    sent.reversed_at, sent.reversal_reason = act.at, reason
    about = [lots[lot_id] for lot_id in sorted({line.lot_id for line in lines})]
    record(session, act, "dispatch.reversed", [sent, *about, *promises], after={"reason": reason})


def _asked(
    session: Session, act: Act, facts: Mapping[str, Any]
) -> tuple[Reservation | None, Sequence[Asked], dict[str, Lot]]:
    """The promise that is kept, the lines to send, and their lots, locked."""
    lines = meant(session, facts["lines"])
    if facts["reservation_id"] is None:
        if not facts["lines"]:
            raise Invalid.at("#/lines", "Say what is sent, or which reservation.")
        return None, lines, lock_for(session, act, lines)
    owed = reservations.lines_of(session, facts["reservation_id"])
    lots = lock_for(session, act, lines, {line.lot_id for line in owed})
    promise = reservations.for_change(session, facts["reservation_id"], act.by)
    if promise.order_ref != facts["order_ref"]:
        raise Invalid.at("#/order_ref", f"The reservation is for order {promise.order_ref}.")
    if promise.status not in LIVING:
        detail = f"This reservation is {promise.status}. Reserve again, or send without it."
        raise Refused("reservation-over", detail, current_state=promise.status)
    rest = reservations.promised_of(session, promise)
    every = [{"lot_id": lot_id, "quantity": units} for lot_id, units in sorted(rest.items())]
    return promise, lines or every, lots


def _registration(session: Session) -> str:
    number = house(session).registration_number
    if number is None:
        detail = "The house has no plant-health registration number: write it into its settings first."
        raise Invalid.at("#/with_registration", detail, code="no-registration-number")
    return number


def _refuse_destination(session: Session, ship_to: Mapping[str, Any] | None, lots: Sequence[Lot]) -> None:
    """A plant on any official list is only sent to a place that is named, and not where a list binds."""
    plants = session.scalars(
        select(Plant)
        .where(Plant.id.in_({plant for lot in lots for plant in kinds(lot.plant_id, lot.strata)}))
        .order_by(Plant.scientific_name)
    ).all()
    reasons: list[Reason] = []
    for plant in [plant for plant in plants if plant.restricted]:
        if ship_to is None:
            detail = f"{plant.scientific_name} is on an official list somewhere: say where it is sent to."
            raise Invalid.at("#/ship_to", detail, code="destination-needed")
        reasons += destination_reasons(
            plant.scientific_name, plant.restricted, ship_to["country"], ship_to["subdivision"]
        )
    Refused.unless_empty("restricted-there", reasons)
