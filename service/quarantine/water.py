"""Which lots shared whose water, from when until when: from their stays, and tools that carried water."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.lots.models import Contact, Stay
from service.lots.queries import stays_of
from service.lots.sharing import Place, places
from service.tubs.waters import Waters, water_at, waters_of


@dataclass(frozen=True)
class Meeting:
    """A lot whose water reached another's: from when until when (`NEVER` while it lasts)."""

    other_id: str
    since: datetime
    until: datetime


def meetings(
    session: Session, stays: Mapping[str, Sequence[Stay]], contacts: Mapping[str, Sequence[Contact]]
) -> dict[str, list[Meeting]]:
    """For each lot every other lot whose water it shared, or got by a tool; few statements for all.

    `stays` and `contacts` are those of the lots (`lots.queries`).
    """
    tubs = {stay.tub_id for found in stays.values() for stay in found}
    tubs |= {contact.tub_id for found in contacts.values() for contact in found if contact.tub_id}
    waters = waters_of(session, tubs)
    there = session.scalars(select(Stay).where(Stay.tub_id.in_(waters))) if waters else ()
    others = list(places(there, waters))
    return {
        lot_id: [
            *(found for place in places(stays[lot_id], waters) for found in _together(place, others)),
            *(found for contact in contacts[lot_id] for found in _carried(contact, waters, others)),
        ]
        for lot_id in stays
    }


def reached_by_tools(session: Session, lot_ids: Collection[str]) -> set[str]:
    """Lots that ever got water by a tool from where these lots ever were."""
    stays = stays_of(session, lot_ids)
    waters = waters_of(session, {stay.tub_id for found in stays.values() for stay in found})
    touched = Contact.touched_at.is_not(None)
    return set(session.scalars(select(Contact.lot_id).where(Contact.tub_id.in_(waters), touched)))


def _together(place: Place, others: Collection[Place]) -> Iterator[Meeting]:
    for other in others:
        since, until = max(place.entered_at, other.entered_at), min(place.left_at, other.left_at)
        if other.lot_id != place.lot_id and other.water == place.water and since < until:
            yield Meeting(other.lot_id, since, until)


def _carried(contact: Contact, waters: Waters, others: Collection[Place]) -> Iterator[Meeting]:
    if contact.touched_at is None or contact.tub_id is None:
        return
    water = water_at(waters[contact.tub_id], contact.touched_at)
    for other in others:
        there = other.entered_at <= contact.touched_at < other.left_at
        if there and other.lot_id != contact.lot_id and other.water == water:
            yield Meeting(other.lot_id, contact.at, contact.at)
