"""Consumption: what one ledger line means, how lines add up, and by what they are shown."""

from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import ROUND_HALF_EVEN, Decimal
from enum import StrEnum
from typing import TypeVar

from service.stores.rules import USES

LOSSES = frozenset({"disposal", "spill"})
DISCHARGED = frozenset({"sewer", "spilled"})
MICRO_PER_MINOR = 10_000
SHOWN = Decimal("0.0001")
K = TypeVar("K", bound=Hashable)


class By(StrEnum):
    """What consumption is shown by."""

    MATERIAL = "material"
    PROTOCOL = "protocol"
    LOT = "lot"
    SUPPLIER = "supplier"
    DAY = "day"
    WEEK = "week"
    MONTH = "month"


@dataclass(frozen=True)
class Sums:
    """Amounts that left stock: base units, millionths of a currency, milligrams of the substance.

    None where any part is unknown, or in another currency. `used` and `cost_micro` of disposals and spills
    are what was lost. `discharged_mg` is what was poured away before neutralising, `left_mg` what of it was
    still active after.
    """

    used: int
    cost_micro: int | None
    currency: str | None
    active_mg: int | None
    discharged_mg: int | None
    left_mg: int | None


@dataclass(frozen=True)
class Consumed:
    """What left stock of a material on one local day, under one protocol ("code/number"), for one reason."""

    day: date
    material_id: str
    protocol: str
    reason: str
    sums: Sums


NOTHING = Sums(0, 0, None, 0, 0, 0)


def sums_of_line(  # each is a column of the line or its batch
    *,
    amount: int,
    active_mg: int | None,
    reason: str,
    way: str | None,
    received: int,
    cost_minor: int | None,
    currency: str | None,
) -> Sums:
    """What one line that takes from stock (`amount` below zero) means.

    The cost is its share of what the batch cost. All that is used ends in the drain, counted before it is
    neutralised; of what is disposed of only what went down the sewer or was spilled. All of it is left:
    what a neutraliser took is told by the other lines of the treatment (`rules_neutralised`).
    """
    gone = -amount
    active = None if active_mg is None else -active_mg
    poured = reason in USES or way in DISCHARGED
    cost = None if cost_minor is None else _share(cost_minor * MICRO_PER_MINOR, gone, received)
    away = active if poured else 0
    return Sums(gone, cost, None if cost is None else currency, active, away, away)


def _share(total: int, part: int, whole: int) -> int:
    return int((Decimal(total) * part / whole).to_integral_value(ROUND_HALF_EVEN))


def added(one: Sums, other: Sums) -> Sums:
    """Two sums together; money of two currencies is unknown."""
    currencies = {sums.currency for sums in (one, other) if sums.currency is not None}
    mixed = len(currencies) > 1
    cost = None if mixed else _plus(one.cost_micro, other.cost_micro)
    return Sums(
        one.used + other.used,
        cost,
        None if cost is None or not currencies else currencies.pop(),
        _plus(one.active_mg, other.active_mg),
        _plus(one.discharged_mg, other.discharged_mg),
        _plus(one.left_mg, other.left_mg),
    )


def _plus(one: int | None, other: int | None) -> int | None:
    return None if one is None or other is None else one + other


def totals(pairs: Iterable[tuple[K, Sums]]) -> dict[K, Sums]:
    """The sums of equal keys added up."""
    found: dict[K, Sums] = {}
    for key, sums in pairs:
        found[key] = added(found.get(key, NOTHING), sums)
    return found


def grouped(lines: Iterable[Consumed]) -> list[Consumed]:
    """Lines of the same day, material, protocol and reason as one, in that order."""
    found = totals(((c.day, c.material_id, c.protocol, c.reason), c.sums) for c in lines)
    return [Consumed(*key, sums) for key, sums in sorted(found.items(), key=lambda item: item[0])]


def as_use(reason: str, sums: Sums) -> Sums:
    """What a report counts of a sum: disposals and spills are no use, only their discharge counts."""
    if reason in USES:
        return sums
    return replace(NOTHING, discharged_mg=sums.discharged_mg, left_mg=sums.left_mg)


def shared(sums: Sums, parts: int) -> list[Sums]:
    """A sum in equal whole parts that add up to it; the first ones get what does not divide."""
    values = (sums.used, sums.cost_micro, sums.active_mg, sums.discharged_mg, sums.left_mg)
    each = [_parts(value, parts) for value in values]
    return [
        Sums(used or 0, cost, sums.currency, active, discharged, left)
        for used, cost, active, discharged, left in zip(*each, strict=True)
    ]


def _parts(total: int | None, parts: int) -> list[int | None]:
    if total is None:
        return [None] * parts
    whole, rest = divmod(total, parts)
    return [whole + (1 if place < rest else 0) for place in range(parts)]


def _week(day: date) -> str:
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02d}"


PERIODS: Mapping[By, Callable[[date], str]] = {
    By.DAY: date.isoformat,
    By.WEEK: _week,
    By.MONTH: lambda day: f"{day.year}-{day.month:02d}",
}


def period(by: By, day: date) -> str:
    """The day, the ISO 8601 week (2026-W10) or the month (2026-03) of a day."""
    return PERIODS[by](day)


def money(sums: Sums) -> dict[str, str] | None:
    """Cost as exact text with two to four decimals; None when it is unknown."""
    if sums.cost_micro is None or sums.currency is None:
        return None
    value = (Decimal(sums.cost_micro) / 1_000_000).quantize(SHOWN, ROUND_HALF_EVEN)
    whole, _, decimals = f"{value:f}".partition(".")
    return {"value": f"{whole}.{decimals.rstrip('0').ljust(2, '0')}", "currency": sums.currency}
