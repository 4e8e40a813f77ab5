"""The stock day by day from today on: known needs, expected use and expiry taken off."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from service.science.demand import projected_balance


@dataclass(frozen=True)
class DayAhead:
    """One day ahead in base units; `balance` is that of its end, below zero what will be missing."""

    day: date
    committed: int
    expected: float
    expires: float
    balance: float


@dataclass(frozen=True)
class DoseAhead:
    """What a treatment under way will need on a day, in base units."""

    day: date
    treatment_id: str
    base_units: int


@dataclass(frozen=True)
class Shortfall:
    """What a treatment will miss in all, and since which day."""

    treatment_id: str
    since: date
    base_units: int


def days_ahead(
    batches: Sequence[tuple[date, int]],
    needs: Mapping[date, int],
    mean_per_day: float,
    today: date,
    horizon_days: int,
) -> list[DayAhead]:
    """Each day from today on; what should have been drawn before counts for today.

    `batches` are the usable ones as (last day of use, balance).
    """
    days = [today + timedelta(days=offset) for offset in range(horizon_days)]
    overdue = sum(amount for day, amount in needs.items() if day < today)
    committed = {day: needs.get(day, 0) + (overdue if day == today else 0) for day in days}
    out = {day: mean_per_day + committed[day] for day in days}
    lost = expiring(batches, out)
    on_hand = float(sum(amount for _, amount in batches))
    gone = {day: out[day] + lost.get(day, 0.0) for day in days}
    balances = projected_balance(on_hand, today, horizon_days, out=gone)
    return [
        DayAhead(day, committed[day], mean_per_day, lost.get(day, 0.0), balance)
        for day, balance in zip(days, balances, strict=True)
    ]


def expiring(batches: Sequence[tuple[date, int]], out: Mapping[date, float]) -> dict[date, float]:
    """What is still in each batch when its last day has passed, by the day after; first expired first out."""
    left = [(last_day, float(amount)) for last_day, amount in sorted(batches)]
    lost: dict[date, float] = defaultdict(float)
    for day in sorted(out):
        while left and left[0][0] < day:
            lost[day] += left.pop(0)[1]
        _taken(left, out[day])
    return dict(lost)


def shortfalls(batches: Sequence[tuple[date, int]], doses: Sequence[DoseAhead]) -> list[Shortfall]:
    """The treatments that will not get all of their doses; the earlier dose is served first.

    A batch serves no dose after its last day, so that a course can come short while there is enough.
    """
    left = [(last_day, float(amount)) for last_day, amount in sorted(batches)]
    missing: dict[str, Shortfall] = {}
    for dose in sorted(doses, key=lambda dose: (dose.day, dose.treatment_id)):
        while left and left[0][0] < dose.day:
            left.pop(0)
        short = dose.base_units - round(_taken(left, dose.base_units))
        if short > 0:
            known = missing.get(dose.treatment_id, Shortfall(dose.treatment_id, dose.day, 0))
            missing[dose.treatment_id] = Shortfall(known.treatment_id, known.since, known.base_units + short)
    return sorted(missing.values(), key=lambda found: (found.since, found.treatment_id))


def _taken(left: list[tuple[date, float]], wanted: float) -> float:
    """Take from the first of the batches on; what could be taken."""
    needed = wanted
    while left and needed > 0:
        last_day, amount = left.pop(0)
        if amount > needed:
            left.insert(0, (last_day, amount - needed))
        needed -= min(amount, needed)
    return wanted - needed
