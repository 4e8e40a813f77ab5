"""How values are written for people: times in the nursery's zone, numbers in its locale, units in words."""

import re
from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

from flask import g
from flask_babel import format_date, format_datetime, format_decimal, format_time, gettext

from service.console.rules_picture import Growth
from service.console.words import UNITS, plain

IN_UTC = re.compile(r"(\d{4}-\d\d-\d\d) (\d\d:\d\d) UTC")
Moment = str | datetime | None
STAMP = re.compile(r"^\d{4}-\d\d-\d\dT\d\d:\d\d")


def parsed(value: Moment) -> datetime | None:
    """A moment of an answer."""
    return datetime.fromisoformat(value) if isinstance(value, str) else value


def moment(value: Moment) -> str:
    """Day and time, as short as it stays clear."""
    at = parsed(value)
    if at is None:
        return "–"
    shown = format_datetime(at, "EEE d MMM HH:mm") if _near(at) else format_datetime(at, "d MMM y HH:mm")
    return str(shown)


def clock(value: Moment) -> str:
    """The time of day."""
    at = parsed(value)
    return "–" if at is None else str(format_time(at, "HH:mm"))


def day(value: str | date | None) -> str:
    """A day of the calendar; a moment counts as its local day."""
    if value is None:
        return "–"
    if isinstance(value, str):
        value = date.fromisoformat(value) if len(value) == 10 else datetime.fromisoformat(value)
    if isinstance(value, datetime):
        return str(format_date(value, "EEE d MMM y"))
    return str(format_date(datetime(value.year, value.month, value.day, 12, tzinfo=UTC), "EEE d MMM y"))


def iso(value: Moment) -> str:
    """A moment for machines: the timer and `<time>`."""
    at = parsed(value)
    return "" if at is None else at.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def decimal(value: float | str | None) -> str:
    """A number as the house writes it, with as many places as tell something."""
    if value is None:
        return "–"
    number = float(value)
    size = abs(number)
    form = "#,##0" if size >= 100 or number == int(number) else "#,##0.0" if size >= 10 else "#,##0.##"
    return str(format_decimal(number, form if size >= 0.1 or number == 0 else "0.####"))


def amount(value: Mapping[str, Any] | None) -> str:
    """An amount with its unit in words."""
    if value is None:
        return "–"
    if value["unit"] in {"s", "min", "h", "d"}:
        return span(value)
    return f"{decimal(value['value'])} {UNITS.get(value['unit'], value['unit'])}"


def span(value: Mapping[str, Any]) -> str:
    """A length of time in the unit people say."""
    seconds = float(value["value"]) * {"s": 1, "min": 60, "h": 3600, "d": 86400}[value["unit"]]
    if seconds < 120:
        return str(gettext("%(n)s s", n=decimal(seconds)))
    if seconds < 2 * 3600:
        return str(gettext("%(n)s min", n=decimal(seconds / 60)))
    if seconds < 72 * 3600:
        return str(gettext("%(n)s h", n=decimal(seconds / 3600)))
    return str(gettext("%(n)s days", n=decimal(seconds / 86400)))


def times(value: Mapping[str, Any], factor: float) -> dict[str, Any]:
    """A share or a multiple of an amount."""
    return {"value": float(value["value"]) * factor, "unit": value["unit"]}


def unit_word(value: Mapping[str, Any]) -> Any:
    """The unit of an amount in words."""
    return UNITS.get(value["unit"], value["unit"])


def decimal_input(value: float | str) -> str:
    """A number as a field holds it, to be read back unchanged."""
    return f"{Decimal(str(value)).normalize():f}"


def degrees(celsius: float) -> str:
    """A temperature in the degrees of the house."""
    bench: Any = g.bench
    fahrenheit = bench.units == "us"
    return (
        f"{decimal(round(celsius * 9 / 5 + 32 if fahrenheit else celsius, 1))} {'°F' if fahrenheit else '°C'}"
    )


def degrees_bare(celsius: float) -> str:
    """The same without its sign, for an axis that says it once."""
    return degrees(celsius).split()[0]


def day_of_month(at: datetime) -> str:
    """A day on an axis."""
    return str(format_datetime(at, "d MMM"))


def gate_value(value: str | float | None) -> str:
    """What a gate needs or has: a moment in local words, a number, or a sentence as it is."""
    if value is None:
        return "–"
    if isinstance(value, str) and STAMP.match(value):
        return moment(value)
    return value if isinstance(value, str) else decimal(value)


def sentence(text: str) -> str:
    """A sentence of the interface for the bench: words of the trade, moments in the nursery's zone."""
    return IN_UTC.sub(lambda found: moment(f"{found[1]}T{found[2]}:00Z"), plain(text))


def come_so_far(growth: Growth, now: datetime) -> float:
    """How far the eggs of a pest have come by now, 0 to 1."""
    passed = [done for at, done in growth.points if at <= now]
    return min(1.0, passed[-1]) if passed else 0.0


def percent(value: float | None, places: int = 0) -> str:
    """A share in per cent."""
    return "–" if value is None else f"{decimal(round(100 * value, places))} %"


def money(value: float) -> str:
    """A sum of money without its currency."""
    return str(format_decimal(value, "#,##0.00"))


def local_input(value: Moment) -> str:
    """A moment as a date-and-time field wants it."""
    at = parsed(value)
    return "" if at is None else str(format_datetime(at, "yyyy-MM-dd'T'HH:mm"))


def _near(at: datetime) -> bool:
    now: datetime = g.now
    return abs(at - now) < timedelta(days=150)


FILTERS = {
    "moment": moment,
    "clock": clock,
    "day": day,
    "iso": iso,
    "decimal": decimal,
    "amount": amount,
    "percent": percent,
    "money": money,
    "local_input": local_input,
    "times": times,
    "unit_word": unit_word,
    "decimal_input": decimal_input,
    "degrees": degrees,
    "degrees_bare": degrees_bare,
    "day_of_month": day_of_month,
    "gate_value": gate_value,
    "come_so_far": come_so_far,
    "plain": sentence,
}
