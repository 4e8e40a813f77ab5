"""A logger's file: temperatures as CSV (RFC 4180) with the header at,value[,unit]."""

import re
from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Literal

from marshmallow import ValidationError

from service.core import csv_files
from service.core.errors import Invalid
from service.core.fields import Instant
from service.core.reasons import Reason
from service.science.amounts import Amount, celsius
from service.tubs.rules import MOST_READINGS, TypedReading

DecimalMark = Literal[".", ","]
NUMBER = {mark: re.compile(rf"-?[0-9]{{1,9}}({re.escape(mark)}[0-9]{{1,6}})?") for mark in (".", ",")}
HEADERS = (["at", "value"], ["at", "value", "unit"])
UNITS = ("Cel", "[degF]")
MOMENT = Instant()


def read_log(content: bytes, *, decimal_mark: DecimalMark, delimiter: str | None) -> list[TypedReading]:
    """The readings of a file, in its order; raises Invalid pointing at its lines ("#/lines/4").

    Lines are counted as an editor does: the header is line 1. UTF-8 with or without a mark; at most 5,000
    rows; `decimal_mark` as declared; the delimiter is found in the header (, ; tab) unless given. A
    missing unit column means °C.
    """
    rows = csv_files.rows(content, delimiter or _delimiter(content))
    header = _header(next(rows, (1, []))[1])
    found: list[TypedReading] = []
    reasons: list[Reason] = []
    for line, row in rows:
        if len(found) + len(reasons) >= MOST_READINGS:
            raise Invalid.at(f"#/lines/{line}", f"At most {MOST_READINGS} readings at once.", "too-many")
        try:
            found.append(_reading(row, header, decimal_mark, f"#/lines/{line}"))
        except ValidationError as problem:
            reasons.append(Reason("validation", str(problem.messages[0]), pointer=f"#/lines/{line}"))
    if reasons:
        raise Invalid("validation", "Some lines are wrong; see errors.", reasons)
    if not found:
        raise Invalid.at("#/lines/1", "There is no reading in this file.")
    return found


def typed(at: datetime, value: float, unit: str, pointer: str = "#") -> TypedReading:
    """A reading as entered in JSON at `pointer`, with its value in °C to a thousandth."""
    return TypedReading(at, _celsius(value, unit), value, unit, f"{pointer}/at", f"{pointer}/value")


def _delimiter(content: bytes) -> str:
    first = content.partition(b"\n")[0].decode("utf-8", "replace")
    return max(",;\t", key=first.count)


def _header(row: Sequence[str]) -> Sequence[str]:
    names = csv_files.header(row)
    if names not in HEADERS:
        raise Invalid.at("#/lines/1", "The first line must be at,value or at,value,unit.")
    return names


def _reading(row: Sequence[str], header: Sequence[str], mark: DecimalMark, pointer: str) -> TypedReading:
    if len(row) != len(header):
        raise ValidationError(f"This line must hold {len(header)} values, as the header does.")
    fields: Mapping[str, str] = dict(zip(header, (field.strip() for field in row), strict=True))
    at: datetime = MOMENT.deserialize(fields["at"])
    if not NUMBER[mark].fullmatch(fields["value"]):
        raise ValidationError(f"The value must be a number like 21{mark}1.")
    unit = fields.get("unit", UNITS[0])
    if unit not in UNITS:
        raise ValidationError(f"Unknown unit. Use one of: {' '.join(UNITS)}.")
    value = float(fields["value"].replace(mark, "."))
    return TypedReading(at, _celsius(value, unit), value, unit, pointer, pointer)


def _celsius(value: float, unit: str) -> float:
    return round(float(celsius(Amount(Decimal(repr(value)), unit))), 3)
