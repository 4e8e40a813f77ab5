"""How long plants live: the survival curve of Kaplan and Meier, and the log-rank test of two of them.

A plant that was sold, moved or released is no longer watched from that day: it is censored, not dead.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from service.science.domain import OutOfDomain, not_negative
from service.science.proportions import two_sided_factor

HALF = 0.5 + 1e-12  # a curve that comes down to one half exactly has reached it


@dataclass(frozen=True)
class Watched:
    """One plant: the day it was last seen alive or found dead, and which of the two."""

    days: float
    died: bool


@dataclass(frozen=True)
class Step:
    """The curve from a day of death on. Nobody left alive has no standard error and no limits."""

    days: float
    at_risk: int
    deaths: int
    survival: float
    standard_error: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class LogRank:
    """Chi-square with one degree of freedom, and the chance of one so large when both groups live alike."""

    chi_square: float
    chance: float


def kaplan_meier(plants: Sequence[Watched], confidence: float = 0.95) -> tuple[Step, ...]:
    """The share alive from each day of death on: product of 1 - d/n (J. Am. Stat. Assoc. 53, 1958, 457-481).

    Standard error by Greenwood's formula, limits on the scale of log(-log S), which stay within 0 and 1. On
    the same day deaths come before censorings.
    """
    _refuse(plants)
    z = two_sided_factor(confidence)
    survival, greenwood = 1.0, 0.0
    steps = []
    for days in _days_of_death(plants):
        at_risk, deaths = _at_risk(plants, days), _deaths(plants, days)
        survival *= 1 - deaths / at_risk
        if deaths == at_risk:
            steps.append(Step(days, at_risk, deaths, 0.0, None, None, None))
            continue
        greenwood += deaths / (at_risk * (at_risk - deaths))
        spread = math.exp(z * math.sqrt(greenwood) / -math.log(survival))
        error = survival * math.sqrt(greenwood)
        low, high = survival**spread, survival ** (1 / spread)
        steps.append(Step(days, at_risk, deaths, survival, error, low, high))
    return tuple(steps)


def median_days(curve: Sequence[Step]) -> float | None:
    """The first day with half or less alive; None while more than half are."""
    return next((step.days for step in curve if step.survival <= HALF), None)


def log_rank(first: Sequence[Watched], second: Sequence[Watched]) -> LogRank:
    """Whether two groups live equally long: Mantel's test, hypergeometric variance at each day of death.

    OutOfDomain when no death can tell them apart.
    """
    _refuse(first)
    _refuse(second)
    excess, variance = 0.0, 0.0
    for days in _days_of_death([*first, *second]):
        ours, theirs = _at_risk(first, days), _at_risk(second, days)
        deaths, all_ = _deaths(first, days) + _deaths(second, days), ours + theirs
        excess += _deaths(first, days) - deaths * ours / all_
        if all_ > 1:
            variance += deaths * ours * theirs * (all_ - deaths) / (all_ * all_ * (all_ - 1))
    if variance == 0:
        raise OutOfDomain("plants", "No death of these plants can tell the two groups apart.")
    chi_square = excess * excess / variance
    return LogRank(chi_square, math.erfc(math.sqrt(chi_square / 2)))


def _days_of_death(plants: Sequence[Watched]) -> list[float]:
    return sorted({plant.days for plant in plants if plant.died})


def _at_risk(plants: Sequence[Watched], days: float) -> int:
    return sum(plant.days >= days for plant in plants)


def _deaths(plants: Sequence[Watched], days: float) -> int:
    return sum(plant.died and plant.days == days for plant in plants)


def _refuse(plants: Sequence[Watched]) -> None:
    if not plants:
        raise OutOfDomain("plants", "There must be one plant at least.")
    for plant in plants:
        not_negative("days", plant.days)
