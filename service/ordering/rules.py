"""When to order a material and how much: known needs are projected, unknown ones get a reorder point."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from service.science.demand import (
    DailyDemand,
    daily_demand,
    first_day_below,
    packs_needed,
    projected_balance,
    reorder_point,
    safety_stock,
    service_factor,
)

SERVICE_LEVEL = 0.95  # assumed: one order in twenty may come too late
HORIZON_DAYS = 180
COVER_DAYS = 30  # assumed: an order covers a month of expected use
FEWEST_USES = 2
NO_DEMAND = DailyDemand(0.0, 0.0)


@dataclass(frozen=True, kw_only=True)
class Shelf:
    """What is there of a material and how it is used, in base units.

    `batches` are the usable ones as (last day of use, balance); `needs` what courses under way will still
    draw, by day; `used` what was used on each day of the history, days without use as 0.
    """

    material_code: str
    base_unit: str
    lead_time_days: int
    pack: int | None
    batches: Sequence[tuple[date, int]]
    needs: Mapping[date, int]
    used: Sequence[int]


@dataclass(frozen=True, kw_only=True)
class Reorder:
    """What to order by when; amounts in base units. `low`: what is free is at or below the reorder point."""

    material_code: str
    base_unit: str
    usable: int
    committed: int
    expected: int
    enough_history: bool
    reorder_point: int
    runs_out_on: date | None
    order_by: date | None
    packs: int | None
    low: bool


def reorder(shelf: Shelf, today: date) -> Reorder:
    """When to order and how much; position = usable - committed, held against d L + z sqrt(L sd^2)."""
    known = enough_history(shelf.used)
    demand = daily_demand(shelf.used) if known else NO_DEMAND
    z, lead = service_factor(SERVICE_LEVEL), shelf.lead_time_days
    point = round(reorder_point(demand, lead, z))
    usable, committed = sum(amount for _, amount in shelf.batches), sum(shelf.needs.values())
    balances = balances_ahead(shelf, demand.mean, today)
    runs_short_on = first_day_below(balances, today, safety_stock(demand, lead, z))
    low = usable - committed <= point
    order_by = _order_by(today, lead, runs_short_on, low=low and bool(committed or known))
    wanted = point - (usable - committed) + round(demand.mean * COVER_DAYS)
    return Reorder(
        material_code=shelf.material_code,
        base_unit=shelf.base_unit,
        usable=usable,
        committed=committed,
        expected=round(demand.mean * lead),
        enough_history=known,
        reorder_point=point,
        runs_out_on=first_day_below(balances, today, 0),
        order_by=order_by,
        packs=_packs(shelf.pack, wanted, due=low or order_by == today),
        low=low,
    )


def enough_history(used: Sequence[int]) -> bool:
    """Whether the past says anything about the future: two uses at least, on two days."""
    return sum(1 for amount in used if amount > 0) >= FEWEST_USES


def balances_ahead(shelf: Shelf, mean_per_day: float, today: date) -> list[float]:
    """The usable balance at the end of today and each day ahead: needs, expected use and expiry taken off."""
    days = [today + timedelta(days=offset) for offset in range(HORIZON_DAYS)]
    first = {today: sum(amount for day, amount in shelf.needs.items() if day < today)}
    out = {day: mean_per_day + shelf.needs.get(day, 0) + first.get(day, 0) for day in days}
    lost = expiring(shelf.batches, out)
    on_hand = float(sum(amount for _, amount in shelf.batches))
    gone = {day: out[day] + lost.get(day, 0.0) for day in days}
    return projected_balance(on_hand, today, HORIZON_DAYS, out=gone)


def expiring(batches: Sequence[tuple[date, int]], out: Mapping[date, float]) -> dict[date, float]:
    """What is still in each batch when its last day has passed, by the day after; first expired first out."""
    left = [(last_day, float(amount)) for last_day, amount in sorted(batches)]
    lost: dict[date, float] = defaultdict(float)
    for day in sorted(out):
        while left and left[0][0] < day:
            lost[day] += left.pop(0)[1]
        needed = out[day]
        while left and needed > 0:
            last_day, amount = left.pop(0)
            if amount > needed:
                left.insert(0, (last_day, amount - needed))
            needed -= min(amount, needed)
    return dict(lost)


def _order_by(today: date, lead_time_days: int, runs_short_on: date | None, *, low: bool) -> date | None:
    if low:
        return today
    return None if runs_short_on is None else max(today, runs_short_on - timedelta(days=lead_time_days))


def _packs(pack: int | None, wanted: int, *, due: bool) -> int | None:
    if pack is None:
        return None
    return max(1, packs_needed(wanted, pack)) if due else 0
