"""Stock that is still needed: the reorder point of unknown demand, the projected balance of known demand."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import NormalDist, fmean, stdev

from service.science.domain import OutOfDomain, not_negative


@dataclass(frozen=True)
class DailyDemand:
    """Mean demand in a day and its standard deviation (divisor n - 1), in the same unit."""

    mean: float
    deviation: float


def service_factor(service_level: float) -> float:
    """z of a cycle service level: the chance that an order arrives before the stock is gone.

    The level lies above 0.5 (there the safety stock is nothing) and below 1 (no stock is that safe).
    """
    if not 0.5 < service_level < 1:
        raise OutOfDomain("service_level", f"service_level must lie between 0.5 and 1, not {service_level}.")
    return NormalDist().inv_cdf(service_level)


def daily_demand(per_day: Sequence[float]) -> DailyDemand:
    """Mean and deviation of what was used day by day, days without use as 0; at least two days."""
    if len(per_day) < 2:
        raise OutOfDomain("per_day", "Two days at least are needed to see how demand varies.")
    for used in per_day:
        not_negative("per_day", used)
    return DailyDemand(fmean(per_day), stdev(per_day))


def safety_stock(
    demand: DailyDemand, lead_time_days: float, z: float, *, lead_time_deviation_days: float = 0.0
) -> float:
    """z sqrt(L sd^2 + d^2 sd_L^2): stock against demand and delivery that vary (Stevenson, 14th ed., 12)."""
    not_negative("mean", demand.mean)
    not_negative("deviation", demand.deviation)
    not_negative("lead_time_days", lead_time_days)
    not_negative("lead_time_deviation_days", lead_time_deviation_days)
    not_negative("z", z)
    of_demand = lead_time_days * demand.deviation**2
    of_delivery = (demand.mean * lead_time_deviation_days) ** 2
    return z * math.sqrt(of_demand + of_delivery)


def reorder_point(
    demand: DailyDemand, lead_time_days: float, z: float, *, lead_time_deviation_days: float = 0.0
) -> float:
    """d L + safety stock: order when what is on hand, on order and not promised falls to it or below."""
    safety = safety_stock(demand, lead_time_days, z, lead_time_deviation_days=lead_time_deviation_days)
    return demand.mean * lead_time_days + safety


def projected_balance(
    on_hand: float,
    start: date,
    days: int,
    *,
    out: Mapping[date, float],
    arriving: Mapping[date, float] | None = None,
) -> list[float]:
    """The balance at the end of `start` and of each of `days` days in all: before + arriving - out.

    `out` is what is needed and what expires; it may take the balance below zero, which is the shortage.
    """
    balances, balance = [], on_hand
    for offset in range(days):
        day = start + timedelta(days=offset)
        balance += (arriving or {}).get(day, 0.0) - out.get(day, 0.0)
        balances.append(balance)
    return balances


def first_day_below(balances: Sequence[float], start: date, level: float) -> date | None:
    """The first day whose balance is below a level, None when there is none."""
    for offset, balance in enumerate(balances):
        if balance < level:
            return start + timedelta(days=offset)
    return None


def packs_needed(wanted: float, pack: float) -> int:
    """Whole packs that hold `wanted` or more."""
    if pack <= 0:
        raise OutOfDomain("pack", f"pack must be above zero, not {pack}.")
    return max(0, math.ceil(wanted / pack - 1e-9))
