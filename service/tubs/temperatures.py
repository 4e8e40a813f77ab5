"""Temperatures: one reading or a logger's file, all of an upload or none of it."""

import csv
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from marshmallow import ValidationError
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core.errors import Invalid, NotFound, Refused
from service.core.fields import Instant, exact
from service.core.house import house
from service.core.reasons import Reason
from service.journal.actions import record
from service.journal.acts import Act
from service.science.amounts import Amount, UnknownUnit, WrongDimension, celsius
from service.tubs.models import TemperatureReading, Tub
from service.tubs.rules import MOST_READINGS, TypedReading, differs, reading_reasons

HEADERS = (["at", "value"], ["at", "value", "unit"])
LOGGER = "read out of a logger"


def typed(facts: Mapping[str, Any], now: datetime) -> list[TypedReading]:
    """The readings of a JSON body: one, or a series under `readings`."""
    if "readings" not in facts:
        return [_reading(facts, now, "#")]
    return [_reading(entry, now, f"#/readings/{n}") for n, entry in enumerate(facts["readings"])]


def from_csv(body: bytes) -> list[TypedReading]:
    """The readings of a CSV file with the header at,value[,unit]; Invalid names the line of a bad one."""
    try:
        rows = list(csv.reader(body.decode("utf-8-sig").splitlines(), strict=True))
    except (UnicodeDecodeError, csv.Error) as problem:
        raise Invalid.at("#", f"This is no CSV file in UTF-8: {problem}.") from problem
    if not rows or [name.strip().casefold() for name in rows[0]] not in HEADERS:
        raise Invalid.at("#/lines/1", "The first line must be at,value or at,value,unit.")
    if len(rows) > MOST_READINGS + 1:
        raise Invalid.at("#", f"At most {MOST_READINGS} readings at once.")
    return [_line(row, len(rows[0]), n) for n, row in enumerate(rows[1:], 2)]


def keep(
    session: Session, act: Act, tub: Tub, readings: Sequence[TypedReading], *, logger: bool
) -> list[TemperatureReading]:
    """Keep an upload whole; the same value again is nothing new, another for the same moment is refused."""
    late_reason = act.late_reason or (LOGGER if logger else None)
    reasons = reading_reasons(readings, act.now, late_reason, house(session).late_entry_limit_days)
    if reasons:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)
    known = _known(session, tub, readings)
    _refuse_contradictions(readings, known)
    new = {reading.at: reading for reading in readings if reading.at not in known}
    kept = [_row(act, tub, reading) for reading in new.values()]
    session.add_all(kept)
    if kept:
        told = {"from": min(new), "to": max(new), "count": len(new), "late_reason": late_reason}
        record(session, act, "tub.temperatures_recorded", [tub], after=told)
    return kept


def void(session: Session, act: Act, reading_id: str, *, reason: str) -> TemperatureReading:
    """Void a wrong reading; it stays in the record with the reason. Raises NotFound, Refused."""
    reading = session.get(TemperatureReading, reading_id, with_for_update=True)
    if reading is None:
        raise NotFound("temperature reading")
    if reading.voided_at is not None:
        raise Refused("already-voided", "This reading was voided before.")
    reading.voided_at, reading.void_reason = act.now, reason
    tub = session.get_one(Tub, reading.tub_id)
    after = {"at": reading.at, "celsius": reading.celsius, "reason": reason}
    record(session, act, "tub.temperature_voided", [tub], after=after)
    return reading


def _reading(entry: Mapping[str, Any], now: datetime, pointer: str) -> TypedReading:
    return TypedReading(
        at=entry.get("at") or now,
        celsius=_celsius(entry["value"], entry["unit"], pointer),
        value=entry["value"],
        unit=entry["unit"],
        at_pointer=f"{pointer}/at",
        value_pointer=f"{pointer}/value",
    )


def _line(row: Sequence[str], width: int, n: int) -> TypedReading:
    pointer = f"#/lines/{n}"
    if len(row) != width:
        raise Invalid.at(pointer, f"This line has {len(row)} fields, {width} are needed.")
    try:
        at = Instant().deserialize(row[0].strip())
        value = float(exact(row[1].strip()))
    except ValidationError as problem:
        raise Invalid.at(pointer, str(problem.messages[0])) from problem
    unit = row[2].strip() if width == len(HEADERS[1]) else "Cel"
    return TypedReading(at, _celsius(value, unit, pointer), value, unit, pointer, pointer)


def _celsius(value: float, unit: str, pointer: str) -> float:
    try:
        return float(celsius(Amount(exact(value), unit)))
    except (UnknownUnit, WrongDimension) as problem:
        raise Invalid.at(f"{pointer}/unit", "The unit must be Cel or [degF].") from problem


def _known(session: Session, tub: Tub, readings: Sequence[TypedReading]) -> dict[datetime, float]:
    moments = [reading.at for reading in readings]
    rows = session.execute(
        select(TemperatureReading.at, TemperatureReading.celsius).where(
            TemperatureReading.tub_id == tub.id,
            TemperatureReading.voided_at.is_(None),
            TemperatureReading.at.between(min(moments), max(moments)),
        )
    ).all()
    return {row.at: row.celsius for row in rows}


def _refuse_contradictions(readings: Sequence[TypedReading], known: Mapping[datetime, float]) -> None:
    detail = "Another value was recorded for this moment; void it first if it is wrong."
    reasons = [
        Reason("contradiction", f"{reading.at.isoformat()}: {detail}", known[reading.at], reading.celsius)
        for reading in readings
        if reading.at in known and differs(known[reading.at], reading.celsius)
    ]
    Refused.unless_empty("contradiction", reasons[:20])


def _row(act: Act, tub: Tub, reading: TypedReading) -> TemperatureReading:
    return TemperatureReading(
        tub_id=tub.id,
        at=reading.at,
        celsius=reading.celsius,
        entered={"value": reading.value, "unit": reading.unit},
        recorded_at=act.now,
        by=act.by,
    )
