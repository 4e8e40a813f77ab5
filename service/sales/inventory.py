"""What may be sold now and next, and what of it has changed since a place.

A place is the last entry of the journal that an answer covers, and its moment. The entries after it name the
lots that changed; beside them, a lot goes from the shelf when nobody acts (it has waited too long since its
look, or its certificate has run out), and days of release move with the temperature. The moment finds those.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, cast, func, or_, select
from sqlalchemy.orm import Session

from service.catalogue.models import Plant
from service.core.db import ID_TYPE
from service.core.errors import Invalid
from service.journal.models import JournalEntry, JournalHead, JournalSubject
from service.lots.models import Lot
from service.lots.queries import for_sale
from service.lots.rules import State
from service.sales.item_models import SalesItem

Key = tuple[str, str]  # a plant and the unit it is sold in
Coming = Mapping[Key, list[dict[str, Any]]]  # units by their day of release
OF_ALL = ("house.rebuilt",)  # entries after which anything may be another
# What another process computed may be stored this much after the moment it was computed for.
OVERLAP = timedelta(minutes=5)


@dataclass(frozen=True)
class Place:
    """How far an answer reaches: the last entry it covers, and its moment."""

    seq: int
    at: datetime

    def __str__(self) -> str:
        return f"{self.seq}-{round(self.at.timestamp() * 1_000_000)}"

    @classmethod
    def read(cls, seq: str, microseconds: str) -> "Place":
        """A place from the two numbers of its text."""
        return cls(int(seq), datetime.fromtimestamp(0, UTC) + timedelta(microseconds=int(microseconds)))


def place(session: Session, now: datetime) -> Place:
    """The place of an answer whose rows are read after this."""
    return Place(session.scalar(select(JournalHead.seq).where(JournalHead.id == 1)) or 0, now)


def inventory(
    session: Session, now: datetime, *, plant: str | None = None, sku: str | None = None
) -> list[dict[str, Any]]:
    """What may be sold and what comes, of each plant and unit that has any of it or a SKU; by name."""
    shelf = _quantities(session, now), _coming(session)
    return _rows(session, _chosen(session, {*shelf[0], *shelf[1], *_named(session)}, plant, sku), *shelf)


def changed(
    session: Session, now: datetime, after: Place, *, plant: str | None = None, sku: str | None = None
) -> list[dict[str, Any]]:
    """The rows that may be others than they were at a place, zeros included; more of them do no harm.

    Raises Invalid when the place lies ahead of the journal: it is of another house or of a lost future.
    """
    head = place(session, now)
    if after.seq > head.seq or after.at > now + OVERLAP:
        detail = "This place is not one of this journal. Read the whole inventory and go on from its place."
        raise Invalid.at("#/after", detail, code="unknown-place")
    if _anything(session, after.seq):
        return inventory(session, now, plant=plant, sku=sku)
    keys = _chosen(session, _moved(session, after, now), plant, sku)
    return _rows(session, keys, _quantities(session, now), _coming(session))


def flat_row(row: Mapping[str, Any]) -> dict[str, Any]:
    """A row for a table: what comes as "2026-03-02:20 2026-03-09:5"."""
    return {**row, "next": [f"{coming['on']}:{coming['quantity']}" for coming in row["next"]]}


def _anything(session: Session, seq: int) -> bool:
    of_all = select(JournalEntry.seq).where(JournalEntry.seq > seq, JournalEntry.kind.in_(OF_ALL))
    return session.scalar(of_all.limit(1)) is not None


def _moved(session: Session, after: Place, now: datetime) -> set[Key]:
    since = after.at - OVERLAP
    lapsed = and_(Lot.state == State.CLEARED.value, Lot.good_until > since, Lot.good_until <= now)
    dated = and_(Lot.state == State.IN_QUARANTINE.value, Lot.release_day_computed_at > since)
    lots = or_(
        Lot.id.in_(_subjects(after, "lot")), Lot.plant_id.in_(_subjects(after, "plant")), lapsed, dated
    )
    rows = session.execute(select(Lot.plant_id, Lot.unit_of_sale).where(lots).distinct()).all()
    named = or_(
        SalesItem.id.in_(_subjects(after, "sales_item")), SalesItem.plant_id.in_(_subjects(after, "plant"))
    )
    return {(row[0], row[1]) for row in rows} | _named(session, named)


def _subjects(after: Place, kind: str) -> Select[str]:
    # Subjects of the journal are text, whatever their ids are in their tables.
    about = select(cast(JournalSubject.subject_id, ID_TYPE))
    return about.where(JournalSubject.subject_kind == kind, JournalSubject.seq > after.seq)


def _chosen(session: Session, keys: Collection[Key], plant: str | None, sku: str | None) -> set[Key]:
    found = {key for key in keys if plant is None or key[0] == plant}
    return found if sku is None else found & _named(session, SalesItem.sku == sku)


def _named(session: Session, *wanted: ColumnElement[bool]) -> set[Key]:
    rows = session.execute(select(SalesItem.plant_id, SalesItem.unit_of_sale).where(*wanted)).all()
    return {(row[0], row[1]) for row in rows}


def _rows(
    session: Session, keys: Collection[Key], cleared: Mapping[Key, tuple[int, int]], coming: Coming
) -> list[dict[str, Any]]:
    plants = {plant for plant, _ in keys}
    called = session.execute(select(Plant.id, Plant.scientific_name).where(Plant.id.in_(plants))).all()
    names = {row.id: row.scientific_name for row in called}
    items = {
        (item.plant_id, item.unit_of_sale): item
        for item in session.execute(
            select(SalesItem.plant_id, SalesItem.unit_of_sale, SalesItem.sku, SalesItem.gtin).where(
                SalesItem.plant_id.in_(plants)
            )
        )
    }
    found = []
    for key in sorted(keys, key=lambda key: (names[key[0]], key)):
        left, reserved = cleared.get(key, (0, 0))
        item = items.get(key)
        found.append(
            {
                "plant_id": key[0],
                "scientific_name": names[key[0]],
                "sku": item.sku if item else None,
                "gtin": item.gtin if item else None,
                "unit_of_sale": key[1],
                "cleared": left,
                "reserved": reserved,
                "available": left - reserved,
                "next": coming.get(key, []),
            }
        )
    return found


def _quantities(session: Session, now: datetime) -> dict[Key, tuple[int, int]]:
    rows = session.execute(
        select(Lot.plant_id, Lot.unit_of_sale, func.sum(Lot.left), func.sum(Lot.reserved))
        .where(for_sale(now))
        .group_by(Lot.plant_id, Lot.unit_of_sale)
    ).all()
    return {(row[0], row[1]): (int(row[2]), int(row[3])) for row in rows}


def _coming(session: Session) -> Coming:
    rows = session.execute(
        select(Lot.plant_id, Lot.unit_of_sale, Lot.release_day, func.sum(Lot.left))
        .where(Lot.state == State.IN_QUARANTINE.value, Lot.release_day.is_not(None))
        .group_by(Lot.plant_id, Lot.unit_of_sale, Lot.release_day)
        .order_by(Lot.release_day)
    ).all()
    found: dict[Key, list[dict[str, Any]]] = {}
    for plant, unit, day, quantity in rows:
        found.setdefault((plant, unit), []).append({"on": day, "quantity": int(quantity)})
    return found
