"""Forecast of a demand that is zero in most periods: its size and its interval are smoothed apart.

All forecasts are a mean per period, in the unit of the demand. They carry no interval: for a reorder point
take the quantiles in `demand`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from service.science.domain import OutOfDomain, not_negative, share

FEWEST_DEMANDS = 2  # one demand shows no interval


@dataclass(frozen=True)
class Smoothed:
    """Size of a demand and periods from one to the next, both smoothed at the times of demand only."""

    size: float
    interval: float
    alpha: float


def smoothed(per_period: Sequence[float], alpha: float) -> Smoothed:
    """Size and interval after the last demand; both begin with their first value (Croston 1972).

    The first interval is counted from before the first period. OutOfDomain for fewer than two demands.
    """
    share("alpha", alpha)
    periods = _periods_of_demand(per_period)
    size, interval = per_period[periods[0]], periods[0] + 1.0
    for before, period in pairwise(periods):
        size += alpha * (per_period[period] - size)
        interval += alpha * (period - before - interval)
    return Smoothed(size, interval, alpha)


def croston(found: Smoothed) -> float:
    """Size through interval (Croston, Oper. Res. Q. 23, 1972, 289-303); on average a little too high."""
    return found.size / found.interval


def syntetos_boylan(found: Smoothed) -> float:
    """Croston's forecast times 1 - alpha/2 (Syntetos and Boylan, Int. J. Forecast. 21, 2005, 303-314)."""
    return croston(found) * (1 - found.alpha / 2)


def shale_boylan_johnston(found: Smoothed) -> float:
    """Croston's forecast times 1 - alpha/(2 - alpha) (Shale, Boylan and Johnston 2006)."""
    return croston(found) * (1 - found.alpha / (2 - found.alpha))


def teunter_syntetos_babai(per_period: Sequence[float], alpha: float, beta: float) -> float:
    """Size times the chance of a demand, which is smoothed in every period (Eur. J. Oper. Res. 214, 2011).

    It sinks while nothing is used, so that stock of a material going out of use is not ordered again. Begins
    with the first demand and one through its period.
    """
    share("alpha", alpha)
    share("beta", beta)
    first = _periods_of_demand(per_period)[0]
    size, chance = per_period[first], 1 / (first + 1)
    for used in per_period[first + 1 :]:
        chance += beta * ((used > 0) - chance)
        if used > 0:
            size += alpha * (used - size)
    return size * chance


def _periods_of_demand(per_period: Sequence[float]) -> list[int]:
    for used in per_period:
        not_negative("per_period", used)
    periods = [period for period, used in enumerate(per_period) if used > 0]
    if len(periods) < FEWEST_DEMANDS:
        raise OutOfDomain("per_period", "Two demands at least are needed to see how often they come.")
    return periods
