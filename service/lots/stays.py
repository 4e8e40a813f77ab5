"""Into a tub and out of it: stays, shared water, and what that does to every lot in it."""

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.core.errors import Refused
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.lots import mixing, queries
from service.lots.mixing import Origin
from service.lots.models import Contact, Lot, Stay
from service.lots.rules import State
from service.lots.sharing import sharers
from service.tubs.models import Tub
from service.tubs.waters import one_water, waters_of

JOINED_WATER = "joined_water"
Inside = Sequence[tuple[Lot, datetime]]  # lots in a water, with the moment each entered


def enter_tub(
    session: Session,
    act: Act,
    lots: Sequence[Lot],
    tub: Tub,
    *,
    share_water: bool,
    by_intent: bool = False,
) -> None:
    """Put locked lots into a tub, out of whatever tub they are in; those already in it stay there.

    Raises Refused: `sealed-cups`, `tub-inactive`, `regulated-lock`, `tub-in-treatment`, `tub-closed` (48 h
    after the first lot went in, until it is empty), `water-shared` (water holds other lots and `share_water`
    was not said; lots of one bag need no saying). `by_intent`: `lots` share water among themselves on
    purpose. When waters mix, the clock of every lot concerned starts anew (Contact, `lot.water_shared`).
    """
    movers = [lot for lot in lots if lot.tub_id != tub.id]
    if not movers:
        return
    waters = waters_of(session, {tub.id, *(lot.tub_id for lot in movers if lot.tub_id)})
    water = one_water(waters, [tub.id])
    inside = [found for found in sharers(session, [tub.id], act.at, waters) if found[0] not in movers]
    unasked = [found for found in inside if not (by_intent and found[0] in lots)]
    arriving = [_origin(lot, one_water(waters, [lot.tub_id] if lot.tub_id else [])) for lot in movers]
    strange = [_origin(lot, water) for lot, _ in unasked]
    mixed = mixing.mixes(arriving, [_origin(lot, water) for lot, _ in inside])
    closes = mixed and bool(unasked or not by_intent)
    reasons = mixing.tub_reasons(
        active=tub.active,
        locked=any(lot.regulated_lock for lot, _ in inside),
        treating=any(lot.state == State.IN_TREATMENT for lot, _ in unasked),
        closed_since=_closed_since(session, act.at, water) if inside and closes else None,
        sealed=[lot.code for lot in movers if lot.sealed_since is not None],
        strangers=mixing.strangers(arriving, strange, by_intent=by_intent),
        share_water=share_water,
    )
    if reasons:
        raise Refused(reasons[0].code, " ".join(reason.detail for reason in reasons), reasons)
    _move(session, act, movers, tub, shared=mixed)
    if mixed:
        _share(session, act, movers, inside, tub)


def leave_tub(session: Session, act: Act, lots: Sequence[Lot]) -> None:
    """Take locked lots out of their tubs, into none."""
    places = {lot.id: lot.tub_id for lot in lots if lot.tub_id is not None}
    leaving = [lot for lot in lots if lot.id in places]
    if leaving:
        tubs = _vacate(session, act.at, leaving, _in_order(session, act, leaving))
        record(
            session, act, "lot.moved", [*leaving, *tubs], before={"tub_ids": places}, after={"tub_id": None}
        )


def vacate(session: Session, at: datetime, lots: Sequence[Lot]) -> list[Tub]:
    """End the open stays of lots; gives the tubs they left. An emptied tub may be filled anew."""
    return _vacate(session, at, lots, queries.stays_of(session, [lot.id for lot in lots]))


def touch_by_tool(
    session: Session, act: Act, lots: Sequence[Lot], from_tub_id: str, touched_at: datetime
) -> None:
    """A tool carried water of another tub to these lots; it was in that water at `touched_at`."""
    session.add_all(
        Contact(lot_id=lot.id, at=act.at, way="tool", tub_id=from_tub_id, touched_at=touched_at)
        for lot in lots
    )
    record(session, act, "lot.water_shared", lots, after={"way": "tool", "from_tub_id": from_tub_id})


def _origin(lot: Lot, water: Collection[str]) -> Origin:
    bag = None if lot.bag is None else f"{lot.shipment_id}/{lot.bag}"
    return Origin(lot.code, min(water) if water else (bag or lot.id), bag)


def _closed_since(session: Session, at: datetime, water: Collection[str]) -> datetime | None:
    since = session.scalar(
        select(func.min(Tub.filling_since, type_=Tub.filling_since.type)).where(Tub.id.in_(water))
    )
    return since if mixing.is_closed(since, at) else None


def _move(session: Session, act: Act, lots: Sequence[Lot], tub: Tub, *, shared: bool) -> None:
    places = {lot.id: lot.tub_id for lot in lots}
    left = _vacate(session, act.at, lots, _in_order(session, act, lots))
    for lot in lots:
        session.add(Stay(lot_id=lot.id, tub_id=tub.id, entered_at=act.at, shared=shared))
        lot.tub_id = tub.id
    tub.filling_since = min(tub.filling_since or act.at, act.at)
    after = {"tub_id": tub.id, "tub": tub.code, "shared": shared}
    about = [*lots, *{found.id: found for found in [*left, tub]}.values()]
    record(session, act, "lot.moved", about, before={"tub_ids": places}, after=after)


def _vacate(
    session: Session, at: datetime, lots: Sequence[Lot], known: Mapping[str, Sequence[Stay]]
) -> list[Tub]:
    left = sorted({lot.tub_id for lot in lots if lot.tub_id is not None})
    own = [lot.id for lot in lots]
    stayed = select(Lot.tub_id).where(Lot.tub_id.in_(left), Lot.id.not_in(own)).distinct()
    full = set(session.scalars(stayed)) if left else set()
    for stay in (stay for lot_id in own for stay in known[lot_id]):
        stay.left_at = stay.left_at or max(at, stay.entered_at)
    for lot in lots:
        lot.tub_id = None
    tubs = [session.get_one(Tub, tub_id) for tub_id in left]
    for tub in tubs:
        if tub.id not in full:
            tub.filling_since = None
    return tubs


def _in_order(session: Session, act: Act, lots: Sequence[Lot]) -> Mapping[str, Sequence[Stay]]:
    """Refuse a move before the last one; gives the stays of the lots."""
    stays = queries.stays_of(session, [lot.id for lot in lots])
    for lot in lots:
        not_before(act.at, lot.received_at, "its receipt")
        for stay in stays[lot.id]:
            not_before(act.at, stay.left_at or stay.entered_at, "its last move")
    return stays


def _share(session: Session, act: Act, movers: Sequence[Lot], inside: Inside, tub: Tub) -> None:
    # In a late entry the others may have come after: water is shared from the later of the two.
    last_in = max([act.at, *(entered for _, entered in inside)])
    moments = {lot.id: last_in for lot in movers}
    moments |= {lot.id: max(act.at, entered) for lot, entered in inside}
    session.add_all(
        Contact(lot_id=lot_id, at=at, way=JOINED_WATER, tub_id=tub.id) for lot_id, at in moments.items()
    )
    lots = [*movers, *(lot for lot, _ in inside)]
    after = {"way": JOINED_WATER, "tub_id": tub.id, "contacts": moments}
    record(session, act, "lot.water_shared", lots, after=after)
