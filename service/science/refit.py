"""Lower threshold and thermal constant from a nursery's own observations of eggs."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from scipy.special import stdtrit

from service.science.domain import OutOfDomain, positive, within
from service.science.proportions import LEAST_CONFIDENCE, Interval
from service.science.readings import COLDEST_C, HOTTEST_C

LEAST_RISE = 1e-12  # of the rate between the coldest and the warmest: less is rounding


@dataclass(frozen=True)
class Refit:
    """A line through rate of development against temperature; standard errors are None for two points."""

    lower_threshold_c: float
    thermal_constant_dd: float
    lower_threshold_error_c: float | None
    thermal_constant_error_dd: float | None
    r_squared: float
    observations: int


def refit(observations: Sequence[tuple[float, float]]) -> Refit:
    """Fit 1/days = a + b celsius by least squares: T0 = -a/b, K = 1/b.

    `observations` are (celsius, days) from laying to hatching at constant temperatures below the optimum, two
    different temperatures at least. Errors after Campbell et al. 1974, J. Appl. Ecol. 11:431-438:
    se(K) = se(b)/b², se(T0) = (mean rate / b) sqrt(s²/(n mean rate²) + (se(b)/b)²). OutOfDomain when
    development is no faster where it is warmer.
    """
    celsius = [_temperature(given) for given, _ in observations]
    rates = [1 / _days(given) for _, given in observations]
    if len(set(celsius)) < 2:
        raise OutOfDomain("observations", "Eggs at two different temperatures at least are needed.")
    mean_c, mean_rate = fmean(celsius), fmean(rates)
    spread = math.fsum((value - mean_c) ** 2 for value in celsius)
    slope = math.fsum((c - mean_c) * (r - mean_rate) for c, r in zip(celsius, rates, strict=True)) / spread
    if slope * (max(celsius) - min(celsius)) <= LEAST_RISE * mean_rate:
        raise OutOfDomain(
            "observations", "Eggs hatched no sooner where it was warmer: leave out the hottest."
        )
    intercept = mean_rate - slope * mean_c
    squares = math.fsum((r - intercept - slope * c) ** 2 for c, r in zip(celsius, rates, strict=True))
    total = math.fsum((r - mean_rate) ** 2 for r in rates)
    of_threshold, of_constant = _errors(squares, spread, slope, mean_rate, len(rates))
    return Refit(
        lower_threshold_c=-intercept / slope,
        thermal_constant_dd=1 / slope,
        lower_threshold_error_c=of_threshold,
        thermal_constant_error_dd=of_constant,
        r_squared=1 - squares / total,
        observations=len(rates),
    )


def refit_limits(found: Refit, confidence: float = 0.95) -> tuple[Interval, Interval]:
    """T0 and K with their limits: the estimate, give or take Student's t with n - 2 times its standard error.

    OutOfDomain for a line through two points, which has no errors.
    """
    within("confidence", confidence, LEAST_CONFIDENCE, 1 - LEAST_CONFIDENCE)
    if found.lower_threshold_error_c is None or found.thermal_constant_error_dd is None:
        raise OutOfDomain("observations", "Two eggs have no limits: at least three are needed.")
    t = float(stdtrit(found.observations - 2, (1 + confidence) / 2))
    return (
        _about(found.lower_threshold_c, t * found.lower_threshold_error_c),
        _about(found.thermal_constant_dd, t * found.thermal_constant_error_dd),
    )


def _about(estimate: float, half: float) -> Interval:
    return Interval(estimate, estimate - half, estimate + half)


def _errors(
    squares: float, spread: float, slope: float, mean_rate: float, observations: int
) -> tuple[float, float] | tuple[None, None]:
    if observations < 3:
        return None, None
    variance = squares / (observations - 2)
    relative = math.sqrt(variance / spread) / slope
    of_threshold = mean_rate / slope * math.sqrt(variance / (observations * mean_rate**2) + relative**2)
    return of_threshold, relative / slope


def _temperature(celsius: float) -> float:
    within("celsius", celsius, COLDEST_C, HOTTEST_C)
    return celsius


def _days(days: float) -> float:
    positive("days", days)
    return days
