"""Which lots shared whose water, from when until when: from their stays, and tools that carried water."""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from service.lots.models import Contact, Stay
from service.lots.queries import contacts_of, stays_of
from service.tubs.models import Tub

NEVER = datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True)
class Meeting:
    """A lot whose water reached another's: from when until when (`NEVER` while it lasts)."""

    other_id: str
    since: datetime
    until: datetime


@dataclass(frozen=True)
class Place:
    """A lot in one water from..to."""

    lot_id: str
    water: str
    entered_at: datetime
    left_at: datetime


def meetings(session: Session, lot_ids: Collection[str]) -> dict[str, list[Meeting]]:
    """For each lot every other lot whose water it shared, or got by a tool; four statements."""
    stays, contacts = stays_of(session, lot_ids), contacts_of(session, lot_ids)
    tubs = {stay.tub_id for found in stays.values() for stay in found}
    tubs |= {contact.tub_id for found in contacts.values() for contact in found if contact.tub_id}
    waters = _waters(session, tubs)
    others = [_place(stay, waters) for stay in session.scalars(select(Stay).where(Stay.tub_id.in_(waters)))]
    return {
        lot_id: [
            *(found for stay in stays[lot_id] for found in _together(_place(stay, waters), others)),
            *(found for contact in contacts[lot_id] for found in _carried(contact, waters, others)),
        ]
        for lot_id in lot_ids
    }


def reached_by_tools(session: Session, lot_ids: Collection[str]) -> set[str]:
    """Lots that ever got water by a tool from where these lots ever were."""
    stays = stays_of(session, lot_ids)
    waters = _waters(session, {stay.tub_id for found in stays.values() for stay in found})
    touched = Contact.touched_at.is_not(None)
    return set(session.scalars(select(Contact.lot_id).where(Contact.tub_id.in_(waters), touched)))


def _waters(session: Session, tubs: Collection[str]) -> dict[str, str]:
    systems = select(Tub.water_system_id).where(Tub.id.in_(tubs), Tub.water_system_id.is_not(None))
    rows = session.execute(
        select(Tub.id, Tub.water_system_id).where(or_(Tub.id.in_(tubs), Tub.water_system_id.in_(systems)))
    ).all()
    return {row.id: row.water_system_id or row.id for row in rows}


def _place(stay: Stay, waters: Mapping[str, str]) -> Place:
    return Place(stay.lot_id, waters[stay.tub_id], stay.entered_at, stay.left_at or NEVER)


def _together(place: Place, others: Collection[Place]) -> Iterator[Meeting]:
    for other in others:
        since, until = max(place.entered_at, other.entered_at), min(place.left_at, other.left_at)
        if other.lot_id != place.lot_id and other.water == place.water and since < until:
            yield Meeting(other.lot_id, since, until)


def _carried(contact: Contact, waters: Mapping[str, str], others: Collection[Place]) -> Iterator[Meeting]:
    if contact.touched_at is None or contact.tub_id is None:
        return
    for other in others:
        there = other.entered_at <= contact.touched_at < other.left_at
        if there and other.lot_id != contact.lot_id and other.water == waters[contact.tub_id]:
            yield Meeting(other.lot_id, contact.at, contact.at)
