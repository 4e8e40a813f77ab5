"""Temperatures of the water: taking uploads in whole, voiding wrong ones, listing."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import Select, insert, select
from sqlalchemy.orm import Session

from service.core.errors import Invalid, NotFound, Refused
from service.core.house import house
from service.core.ids import new_id
from service.core.reasons import Reason
from service.journal.actions import record
from service.journal.acts import Act
from service.science.amounts import Amount, System, present
from service.tubs.models import TemperatureReading, Tub
from service.tubs.rules import TypedReading, differs, reading_reasons

LOGGER = "Read out from a logger."
TEMPERATURE = ("id", "tub_id", "at", "celsius", "entered", "recorded_at", "by", "voided_at", "void_reason")


def temperatures(tub_id: str, asked: Mapping[str, Any]) -> Select[Any]:
    """The readings of a tub; voided ones only when asked for."""
    found = select(*(getattr(TemperatureReading, name) for name in TEMPERATURE)).where(
        TemperatureReading.tub_id == tub_id
    )
    if not asked["voided"]:
        found = found.where(TemperatureReading.voided_at.is_(None))
    if asked["start"] is not None:
        found = found.where(TemperatureReading.at >= asked["start"])
    return found if asked["end"] is None else found.where(TemperatureReading.at <= asked["end"])


def temperature_shape(row: Sequence[Any], system: System) -> dict[str, Any]:
    """A reading as answered: its value and unit as readers of the system want them."""
    shown = dict(zip(TEMPERATURE, row, strict=True))
    amount = present(Amount(Decimal(repr(shown.pop("celsius"))), "Cel"), system)
    return {**shown, "value": float(amount.value), "unit": amount.unit}


def reading_view(reading: TemperatureReading, system: System) -> dict[str, Any]:
    """One reading as answered."""
    return temperature_shape([getattr(reading, name) for name in TEMPERATURE], system)


def reading_by_id(session: Session, reading_id: str, *, lock: bool = False) -> TemperatureReading:
    """One reading; raises NotFound."""
    found = session.get(TemperatureReading, reading_id, with_for_update=lock or None, populate_existing=lock)
    if found is None:
        raise NotFound("temperature reading")
    return found


def record_temperatures(
    session: Session, act: Act, tub: Tub, readings: Sequence[TypedReading]
) -> dict[str, Any]:
    """Take all readings of an upload for a locked tub, or none; gives how many were new and how many known.

    Raises Invalid pointing at every bad one (`rules.reading_reasons`), and Refused `reading-differs` when
    the tub has another value for the same moment. A known value again changes nothing.
    """
    _check(session, act, readings)
    first, last = min(r.at for r in readings), max(r.at for r in readings)
    known = _known(session, tub.id, first, last)
    _refuse_differing(known, readings)
    fresh = {r.at: r for r in readings if r.at not in known}
    ids = {at: new_id() for at in sorted(fresh)}
    if fresh:
        session.execute(insert(TemperatureReading), [_row(act, tub, ids[at], fresh[at]) for at in ids])
        told = {"from": min(ids), "to": max(ids), "count": len(ids)}
        record(session, act.moved(max(ids)), "tub.temperatures_recorded", [tub], after=told)
    only = (ids.get(first) or known[first][0]) if first == last else None
    return {"id": only, "recorded": len(ids), "repeated": len(readings) - len(ids), "from": first, "to": last}


def void_temperature(session: Session, act: Act, reading_id: str, reason: str) -> TemperatureReading:
    """Void a reading: it counts no more; refused when it is void already."""
    tub_id = reading_by_id(session, reading_id).tub_id
    tub = session.get_one(Tub, tub_id, with_for_update=True)
    reading = reading_by_id(session, reading_id, lock=True)
    if reading.voided_at is not None:
        raise Refused("already-voided", "This reading was voided before.")
    reading.voided_at, reading.void_reason = act.at, reason
    told = {"from": reading.at, "to": reading.at, "count": 1, "reading_id": reading.id, "reason": reason}
    record(session, act, "tub.temperature_voided", [tub], before={"celsius": reading.celsius}, after=told)
    return reading


def _check(session: Session, act: Act, readings: Sequence[TypedReading]) -> None:
    limit_days = house(session).late_entry_limit_days
    reasons = reading_reasons(readings, act.now, act.late_reason, limit_days)
    if reasons:
        raise Invalid(reasons[0].code, "Some readings are wrong, so none was kept; see errors.", reasons)


def _known(
    session: Session, tub_id: str, first: datetime, last: datetime
) -> dict[datetime, tuple[str, float]]:
    rows = session.execute(
        select(TemperatureReading.at, TemperatureReading.id, TemperatureReading.celsius).where(
            TemperatureReading.tub_id == tub_id,
            TemperatureReading.voided_at.is_(None),
            TemperatureReading.at.between(first, last),
        )
    ).all()
    return {row.at: (row.id, row.celsius) for row in rows}


def _refuse_differing(known: Mapping[datetime, tuple[str, float]], readings: Sequence[TypedReading]) -> None:
    reasons = [
        Reason(
            "reading-differs",
            f"At {r.at.isoformat()} this tub had {known[r.at][1]:g} °C; void that reading first.",
            known[r.at][1],
            r.celsius,
            r.value_pointer,
        )
        for r in readings
        if r.at in known and differs(known[r.at][1], r.celsius)
    ]
    if reasons:
        raise Refused("reading-differs", reasons[0].detail, reasons)


def _row(act: Act, tub: Tub, id_: str, reading: TypedReading) -> dict[str, Any]:
    return {
        "id": id_,
        "tub_id": tub.id,
        "at": reading.at,
        "celsius": reading.celsius,
        "entered": {"value": reading.value, "unit": reading.unit},
        "recorded_at": act.now,
        "by": act.by,
    }
