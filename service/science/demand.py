"""Stock that is still needed: the reorder point of unknown demand, the projected balance of known demand.

Two things are called service level: the chance that no order comes too late (`service_factor`), and the share
of the quantity that is there when it is asked for (`fill_rate`).
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import NormalDist, fmean, stdev

from scipy.special import betainc, gammaincc

from service.science.domain import OutOfDomain, finite, not_negative, positive, within
from service.science.searching import doubled_until, first_that_holds

MOST_UNITS = 1_000_000_000
LEAST_CHANCE = 1e-9
NEARLY_POISSON = 1e-9  # relative: a variance so close to the mean leaves no digits of their difference
MOST_TRIED = 2**62  # above the mean through the least chance, so always enough (Markov)


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


def order_up_to_level(
    demand: DailyDemand,
    lead_time_days: float,
    review_days: float,
    z: float,
    *,
    lead_time_deviation_days: float = 0.0,
) -> float:
    """The level to fill up to when stock is looked at every `review_days` only: L + R in the place of L."""
    not_negative("lead_time_days", lead_time_days)
    not_negative("review_days", review_days)
    exposed_days = lead_time_days + review_days
    return reorder_point(demand, exposed_days, z, lead_time_deviation_days=lead_time_deviation_days)


def poisson_quantile(mean: float, service_level: float) -> int:
    """Units that cover the demand of a lead time with this chance, single units being asked for at random."""
    within("mean", mean, 0, MOST_UNITS)
    _refuse_level(service_level)
    return _least(lambda units: float(gammaincc(units + 1, mean)) >= service_level)


def negative_binomial_quantile(mean: float, variance: float, service_level: float) -> int:
    """As `poisson_quantile`, for demand that varies more: its size r = mean^2 / (variance - mean).

    OutOfDomain unless the variance is above the mean: such demand is Poisson's.
    """
    positive("mean", mean)
    within("mean", mean, 0, MOST_UNITS)
    positive("variance", variance)
    _refuse_level(service_level)
    if variance <= mean:
        raise OutOfDomain("variance", f"variance must be above the mean of {mean}, not {variance}.")
    if variance - mean <= NEARLY_POISSON * mean:
        return poisson_quantile(mean, service_level)
    size = mean**2 / (variance - mean)
    return _least(lambda units: float(betainc(size, units + 1, mean / variance)) >= service_level)


def normal_quantile(mean: float, deviation: float, service_level: float) -> float:
    """As `poisson_quantile`, for a demand of many units: mean + z deviation."""
    not_negative("mean", mean)
    not_negative("deviation", deviation)
    return mean + service_factor(service_level) * deviation


def loss(z: float) -> float:
    """What a standard normal demand exceeds z by on average: phi(z) - z (1 - Phi(z))."""
    finite("z", z)
    normal = NormalDist()
    return normal.pdf(z) - z * normal.cdf(-z)


def fill_rate(deviation: float, z: float, order_quantity: float) -> float:
    """Share of the quantity asked for that is on the shelf: 1 - deviation x loss(z) / order quantity.

    `deviation` is that of the demand of a lead time. Below 0, for orders too small for the formula, it is 0.
    """
    not_negative("deviation", deviation)
    positive("order_quantity", order_quantity)
    return max(0.0, 1 - deviation * loss(z) / order_quantity)


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
    finite("wanted", wanted)
    positive("pack", pack)
    return max(0, math.ceil(wanted / pack - 1e-9))


def _least(enough: Callable[[int], bool]) -> int:
    """The smallest number from 0 on that is enough."""
    return first_that_holds(enough, low=-1, high=doubled_until(enough, MOST_TRIED))


def _refuse_level(service_level: float) -> None:
    within("service_level", service_level, LEAST_CHANCE, 1 - LEAST_CHANCE)
