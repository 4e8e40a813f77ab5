"""Reading the journal as EPCIS events, page by page."""

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from service.core.house import house
from service.exchange import queries
from service.exchange.rules_epcis import KINDS, MISTAKES, epcis_events
from service.exchange.rules_epcis_words import Body, Known, Site
from service.exchange.rules_told import Entry
from service.journal.models import JournalEntry, JournalSubject
from service.lots.models import Lot
from service.sales.item_models import SalesItem, sold_as


def entries_for_epcis(lot_id: str | None) -> Select[Any]:
    """The numbers of the entries that may be an event, of all lots or of one."""
    statement = select(JournalEntry.seq).where(JournalEntry.kind.in_(KINDS))
    if lot_id is None:
        return statement
    about = JournalSubject.seq == JournalEntry.seq
    thing = (JournalSubject.subject_kind == "lot", JournalSubject.subject_id == lot_id)
    return statement.join(JournalSubject, about).where(*thing)


def events_of_page(session: Session, seqs: Sequence[int], source: str) -> list[Body]:
    """The EPCIS events of entries, in order."""
    entries = queries.entries_of(session, seqs)
    known = _known(session, entries, source)
    return [event for entry in entries for event in epcis_events(entry, known)]


def _known(session: Session, entries: Sequence[Entry], source: str) -> Known:
    found = house(session)
    site = Site(source, found.time_zone, found.gs1_prefix, found.gln)
    made = _made(session, [entry for entry in entries if entry.kind in MISTAKES])
    about = {lot_id for entry in (*entries, *made.values()) for lot_id in entry.ids("lot")}
    about |= {entry.after["returned_from_id"] for entry in entries if entry.after.get("returned_from_id")}
    return Known(site, _names(session, about), made)


def _made(session: Session, mistaken: Sequence[Entry]) -> Mapping[str, Entry]:
    # What each of these takes back, by the id of the thing.
    made: dict[str, Entry] = {}
    for kind in {entry.kind for entry in mistaken}:
        mistake = MISTAKES[kind]
        things = {id_ for entry in mistaken if entry.kind == kind for id_ in entry.ids(mistake.about)}
        statement = (
            select(JournalEntry.seq)
            .join(JournalSubject, JournalSubject.seq == JournalEntry.seq)
            .where(
                JournalEntry.kind.in_(mistake.made),
                JournalSubject.subject_kind == mistake.about,
                JournalSubject.subject_id.in_(things),
            )
        )
        found = queries.entries_of(session, session.scalars(statement).all())
        made |= {entry.ids(mistake.about)[0]: entry for entry in found}
    return made


def _names(session: Session, lot_ids: Collection[str]) -> dict[str, tuple[str, str | None]]:
    named = select(Lot.id, Lot.code, SalesItem.gtin).join(SalesItem, sold_as(), isouter=True)
    rows = session.execute(named.where(Lot.id.in_(lot_ids)))
    return {row.id: (row.code, row.gtin) for row in rows}
