"""The verbs on shelves: add one, read its thermometer, void a reading, put a batch there."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Select, insert, select
from sqlalchemy.orm import Session

from service.core.errors import Invalid, NotFound, Refused
from service.core.house import house
from service.core.ids import new_id
from service.core.reasons import Reason
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.stores.models import Shelf, ShelfReading, ShelfStay, StockBatch
from service.stores.rules_shelf import differs, reading_reasons
from service.stores.shelf_log import stays_of

SHELF = ("id", "name", "created_at", "version")
READING = ("id", "shelf_id", "at", "celsius", "recorded_at", "by", "voided_at", "void_reason")


def shelf_by_id(session: Session, shelf_id: str, *, lock: bool = False) -> Shelf:
    """One shelf; raises NotFound."""
    found = session.get(Shelf, shelf_id, with_for_update=lock or None)
    if found is None:
        raise NotFound("shelf")
    return found


def all_shelves() -> Select[Any]:
    """Every shelf."""
    return select(*(getattr(Shelf, name) for name in SHELF))


def shelf_shape(row: Sequence[Any]) -> dict[str, Any]:
    """A shelf as answered."""
    return dict(zip(SHELF, row, strict=True))


def shelf_view(shelf: Shelf) -> dict[str, Any]:
    """One shelf as answered."""
    return shelf_shape([getattr(shelf, name) for name in SHELF])


def readings(shelf_id: str) -> Select[Any]:
    """The readings of a shelf, voided ones too."""
    columns = (getattr(ShelfReading, name) for name in READING)
    return select(*columns).where(ShelfReading.shelf_id == shelf_id)


def reading_shape(row: Sequence[Any]) -> dict[str, Any]:
    """A reading as answered."""
    return dict(zip(READING, row, strict=True))


def add_shelf(session: Session, act: Act, name: str) -> Shelf:
    """Add a place in the store; refused when its name is taken."""
    if session.scalars(select(Shelf.id).where(Shelf.name == name)).first() is not None:
        raise Refused("name-taken", f"There is a shelf called {name} already.")
    shelf = Shelf(name=name, created_at=act.now)
    session.add(shelf)
    record(session, act, "shelf.added", [shelf], after={"name": name})
    return shelf


def record_readings(
    session: Session, act: Act, shelf: Shelf, read: Sequence[tuple[datetime, float]]
) -> dict[str, Any]:
    """Keep all readings (when, °C) of a locked shelf or none; gives how many were new and how many known.

    Invalid points at every bad one; Refused `reading-differs` when the shelf has another value for a moment.
    """
    limit_days = house(session).late_entry_limit_days
    reasons = reading_reasons(read, act.now, act.late_reason, limit_days)
    if reasons:
        raise Invalid(reasons[0].code, "Some readings are wrong, so none was kept; see errors.", reasons)
    known = _known(session, shelf, [at for at, _ in read])
    Refused.unless_empty("reading-differs", _other(known, read))
    fresh = {at: celsius for at, celsius in read if at not in known}
    plain = {"shelf_id": shelf.id, "recorded_at": act.now, "by": act.by}
    rows = [{**plain, "id": new_id(), "at": at, "celsius": fresh[at]} for at in sorted(fresh)]
    if rows:
        session.execute(insert(ShelfReading), rows)
        told = {"from": min(fresh), "to": max(fresh), "count": len(rows)}
        record(session, act.moved(max(fresh)), "shelf.temperatures_recorded", [shelf], after=told)
    return {"recorded": len(rows), "repeated": len(read) - len(rows)}


def void_reading(session: Session, act: Act, reading_id: str, reason: str) -> ShelfReading:
    """Void a wrong reading: it counts no more; refused when it is void already."""
    found = session.get(ShelfReading, reading_id)
    if found is None:
        raise NotFound("shelf reading")
    shelf = shelf_by_id(session, found.shelf_id, lock=True)
    session.refresh(found)
    if found.voided_at is not None:
        raise Refused("already-voided", "This reading was voided before.")
    found.voided_at, found.void_reason = act.at, reason
    told = {"reading_id": found.id, "at": found.at, "reason": reason}
    record(session, act, "shelf.temperature_voided", [shelf], before={"celsius": found.celsius}, after=told)
    return found


def put(session: Session, act: Act, batch: StockBatch, shelf_id: str | None) -> None:
    """A locked batch stands on a shelf, or on none, since the act; Invalid for one that is not there."""
    if shelf_id is not None and session.get(Shelf, shelf_id) is None:
        raise Invalid.at("#/shelf_id", "There is no such shelf; GET /shelves lists them.", "unknown-shelf")
    path = stays_of(session, [batch.id]).get(batch.id, [])
    earliest = path[-1][0] if path else batch.received_at
    not_before(act.at, earliest, "it was put where it stands")
    session.add(ShelfStay(batch_id=batch.id, shelf_id=shelf_id, since=act.at, recorded_at=act.now, by=act.by))
    before = {"shelf_id": path[-1][1] if path else None}
    record(session, act, "stock.batch_shelved", [batch], before=before, after={"shelf_id": shelf_id})


def _known(session: Session, shelf: Shelf, moments: Sequence[datetime]) -> Mapping[datetime, float]:
    rows = session.execute(
        select(ShelfReading.at, ShelfReading.celsius).where(
            ShelfReading.shelf_id == shelf.id,
            ShelfReading.voided_at.is_(None),
            ShelfReading.at.between(min(moments), max(moments)),
        )
    )
    return {at: celsius for at, celsius in rows}


def _other(known: Mapping[datetime, float], read: Sequence[tuple[datetime, float]]) -> list[Reason]:
    return [
        Reason(
            "reading-differs",
            f"At {at.isoformat()} this shelf had {known[at]:g} °C; void that reading first.",
            known[at],
            celsius,
            f"#/readings/{n}",
        )
        for n, (at, celsius) in enumerate(read)
        if at in known and differs(known[at], celsius)
    ]
