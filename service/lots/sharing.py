"""Which lots shared whose water, judged by where they stood and what was joined to what at the time."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from sqlalchemy import ColumnElement, and_, func, or_, select
from sqlalchemy.orm import Session

from service.lots.models import Contact, Lot, Stay
from service.lots.rules import ENDED
from service.tubs.waters import NEVER, Waters, one_water, tubs_of_one_water, water_at, waters_of

LIVING = Lot.state.not_in([state.value for state in ENDED])
CLOCK = func.coalesce(Lot.clock_started_at, Lot.received_at)


@dataclass(frozen=True)
class Place:
    """A lot in one water from..to (`NEVER` while it lasts)."""

    lot_id: str
    water: str
    entered_at: datetime
    left_at: datetime


def places(stays: Iterable[Stay], waters: Waters) -> Iterator[Place]:
    """The waters in which these stays were; `waters` knows every tub of them (`tubs.waters.waters_of`)."""
    for stay in stays:
        for spell in waters[stay.tub_id]:
            since, until = max(stay.entered_at, spell.since), min(stay.left_at or NEVER, spell.until)
            if since < until:
                yield Place(stay.lot_id, spell.water, since, until)


def group_of(
    session: Session, lot_ids: Collection[str], tub_ids: Iterable[str], since: datetime | None
) -> tuple[set[str], set[str]]:
    """Ids of these lots and of all in their water or that of these tubs, now or at any time after `since`.

    The other ids are those of the tubs whose water is one with theirs now.
    """
    tubs = set(tub_ids)
    if lot_ids:
        tubs |= {id_ for id_ in session.scalars(select(Lot.tub_id).where(Lot.id.in_(lot_ids))) if id_}
    if not tubs:
        return set(lot_ids), tubs
    waters = waters_of(session, tubs)
    water = one_water(waters, tubs)
    found = set(lot_ids) | set(session.scalars(select(Lot.id).where(Lot.tub_id.in_(water))))
    if since is not None:
        found |= set(_entered(session, waters, tubs, since))
    return found, water


def sharers(
    session: Session, tub_ids: Collection[str], at: datetime, waters: Waters | None = None
) -> list[tuple[Lot, datetime]]:
    """Each living lot in the water of these tubs, or in it after `at`, with the moment it last came in.

    `waters` are not asked for again: those of these tubs, of others too.
    """
    known = waters_of(session, tub_ids) if waters is None else waters
    entered = _entered(session, known, tub_ids, at)
    if not entered:
        return []
    lots = session.scalars(select(Lot).where(Lot.id.in_(entered)).order_by(Lot.id))
    return [(lot, entered[lot.id]) for lot in lots]


def _entered(
    session: Session, waters: Waters, tub_ids: Collection[str], at: datetime
) -> Mapping[str, datetime]:
    asked_for = set(tub_ids)
    spells = [spell for tub, known in waters.items() if tub in asked_for for spell in known]
    here = [Place("", spell.water, max(spell.since, at), spell.until) for spell in spells]
    asked = [place for place in here if place.entered_at < place.left_at]
    entered: dict[str, datetime] = {}
    for place in places(_living_in(session, waters, at), waters):
        if _met(asked, [place]):
            entered[place.lot_id] = max(place.entered_at, entered.get(place.lot_id, place.entered_at))
    return entered


def lots_in_water(session: Session, tub_id: str, at: datetime) -> list[Lot]:
    """The living lots that were in the water of a tub at a moment, by id."""
    tubs = tubs_of_one_water(session, tub_id, at)
    there = select(Stay.lot_id).where(Stay.tub_id.in_(tubs), Stay.entered_at <= at, _lasts_after(at))
    return list(session.scalars(select(Lot).where(Lot.id.in_(there), LIVING).order_by(Lot.id)))


def met_since(session: Session, lot_ids: Collection[str], tub_id: str | None, at: datetime) -> set[str]:
    """Ids of these lots, and of the living that were in their water, or in that of a tub, at `at` or since.

    A tub's water is what it was part of at that moment, and the tub itself whatever it was joined to since:
    tubs are empty when they are joined to others or parted from them.
    """
    own = session.scalars(select(Stay).where(Stay.lot_id.in_(lot_ids), _lasts_after(at))).all()
    waters = waters_of(session, {*(stay.tub_id for stay in own), *([tub_id] if tub_id else [])})
    ours = [replace(place, entered_at=max(place.entered_at, at)) for place in places(own, waters)]
    if tub_id is not None:
        ours.append(Place("", water_at(waters[tub_id], at), at, NEVER))
    theirs = _living_in(session, waters, at)
    met = _met([place for place in ours if place.left_at > at], places(theirs, waters))
    return {*lot_ids, *met, *(stay.lot_id for stay in theirs if stay.tub_id == tub_id)}


def reach_since_clock(session: Session, lot_ids: Collection[str], at: datetime) -> list[Lot]:
    """Other living lots that shared water with these up to `at` and since their own clock start.

    Shared is water of one tub or water system at the same time, by what was joined to what then, or water
    that a tool carried from there to them. A lot without a clock counts from its receipt.
    """
    own = session.scalars(select(Stay).where(Stay.lot_id.in_(lot_ids), Stay.entered_at <= at)).all()
    waters = waters_of(session, {stay.tub_id for stay in own})
    ours = [place for place in places(own, waters) if place.entered_at <= at]
    others = and_(LIVING, Lot.id.not_in(lot_ids), at >= CLOCK)
    stays = select(Stay, CLOCK).join(Lot, Lot.id == Stay.lot_id).where(others, Stay.tub_id.in_(waters))
    rows = session.execute(stays.where(Stay.entered_at <= at, _lasts_after(CLOCK))).all()
    theirs = [
        replace(place, entered_at=max(place.entered_at, clock))
        for stay, clock in rows
        for place in places([stay], waters)
    ]
    met = _met(ours, (place for place in theirs if place.entered_at <= at))
    touched = select(Contact).join(Lot, Lot.id == Contact.lot_id).where(others, Contact.tub_id.in_(waters))
    contacts = session.scalars(touched.where(Contact.at <= at, Contact.at >= CLOCK))
    met |= {contact.lot_id for contact in contacts if _was_touched(contact, ours, waters)}
    return list(session.scalars(select(Lot).where(Lot.id.in_(met)).order_by(Lot.id)))


def _living_in(session: Session, tub_ids: Collection[str], since: datetime) -> Sequence[Stay]:
    """The stays of living lots in these tubs that last after a moment."""
    if not tub_ids:
        return []
    wanted = select(Stay).join(Lot, Lot.id == Stay.lot_id).where(LIVING, Stay.tub_id.in_(tub_ids))
    return session.scalars(wanted.where(_lasts_after(since)).order_by(Stay.id)).all()


def _lasts_after(moment: datetime | ColumnElement[datetime]) -> ColumnElement[bool]:
    return or_(Stay.left_at.is_(None), Stay.left_at > moment)


def _met(ours: Iterable[Place], theirs: Iterable[Place]) -> set[str]:
    """The lots of `theirs` that were in the water of one of `ours` at the same time."""
    by_water: dict[str, list[Place]] = defaultdict(list)
    for place in ours:
        by_water[place.water].append(place)
    return {
        other.lot_id
        for other in theirs
        if any(
            max(place.entered_at, other.entered_at) < min(place.left_at, other.left_at)
            for place in by_water[other.water]
        )
    }


def _was_touched(contact: Contact, ours: Iterable[Place], waters: Waters) -> bool:
    at, tub_id = contact.touched_at, contact.tub_id
    if at is None or tub_id is None:
        return False  # waters that came together: both lots stood there
    water = water_at(waters[tub_id], at)
    return any(place.water == water and place.entered_at <= at < place.left_at for place in ours)
