"""Temperature and hatching for a whole nursery at once: the same formulas on NumPy arrays."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr

from service.science.domain import OutOfDomain, finite, positive
from service.science.reaching import NEVER_MIND_DD
from service.science.readings import COLDEST_C, HOTTEST_C
from service.science.thermal import SPREAD_OF_HATCHING, Development, refuse_cut_below

Floats = NDArray[np.float64]
HOURS = 24.0


def rates(celsius: ArrayLike, development: Development) -> Floats:
    """`thermal.rate` of every temperature, any shape: degree-days per day."""
    warmth = _temperatures("celsius", celsius)
    nothing = (warmth <= development.lower_threshold_c) | (warmth > development.maximum_c)
    above = np.minimum(warmth, development.optimum_c) - development.lower_threshold_c
    found: Floats = np.where(nothing, 0.0, above)
    return found


def hourly_degree_days(celsius: ArrayLike, development: Development) -> Floats:
    """Degree-days since the first hour, at the end of each (..., hours); each reading holds for its hour."""
    found: Floats = np.cumsum(rates(celsius, development), axis=-1) / HOURS
    return found


def hours_until(cumulative_dd: ArrayLike, start_hours: ArrayLike, needed_dd: ArrayLike) -> Floats:
    """Hours after `start_hours` at which `needed_dd` are reached in one tub's cumulated log; nan when never.

    `cumulative_dd` (hours) by `hourly_degree_days`, the other two of one shape: one sum serves all lots of a
    tub, whenever they came in. Within an hour credit grows evenly. OutOfDomain for a start outside the log, a
    need below zero, and sums that fall.
    """
    sums = np.concatenate([[0.0], np.asarray(cumulative_dd, dtype=np.float64)])
    starts, needed = np.asarray(start_hours, dtype=np.float64), np.asarray(needed_dd, dtype=np.float64)
    _refuse_outside(sums, starts, needed)
    hours = np.arange(sums.size, dtype=np.float64)
    wanted = np.interp(starts, hours, sums) + needed
    # What rounding keeps from a sum must not put it off beyond a cold spell.
    met = wanted - NEVER_MIND_DD
    after = np.searchsorted(sums, met, side="left").clip(1, sums.size - 1)
    step = sums[after] - sums[after - 1]
    part = np.divide(wanted - sums[after - 1], step, out=np.zeros_like(wanted), where=step > 0)
    reached = np.maximum(after - 1 + np.minimum(part, 1.0), starts)
    found: Floats = np.where(met > sums[-1], np.nan, reached - starts)
    return found


def sine_degree_days(
    minimum_c: ArrayLike, maximum_c: ArrayLike, lower_threshold_c: float, optimum_c: float | None = None
) -> Floats:
    """`thermal.single_sine_degree_days` of every day, any one shape."""
    low, high = _temperatures("minimum_c", minimum_c), _temperatures("maximum_c", maximum_c)
    finite("lower_threshold_c", lower_threshold_c)
    if np.any(low > high):
        raise OutOfDomain("minimum_c", "The lowest temperature of a day must not be above the highest.")
    refuse_cut_below(lower_threshold_c, optimum_c)
    above = _sine_above(low, high, lower_threshold_c)
    return above if optimum_c is None else above - _sine_above(low, high, optimum_c)


def shares_hatched(degree_days: ArrayLike, median_dd: ArrayLike, sigma: float = SPREAD_OF_HATCHING) -> Floats:
    """`thermal.share_hatched` for all: share of single eggs hatched, shapes as they broadcast."""
    positive("sigma", sigma)
    credit, median = np.asarray(degree_days, dtype=np.float64), np.asarray(median_dd, dtype=np.float64)
    if not np.all((median > 0) & np.isfinite(median)):
        raise OutOfDomain("median_dd", "median_dd must be a number above zero.")
    if np.any(np.isnan(credit)):
        raise OutOfDomain("degree_days", "degree_days must be numbers.")
    with np.errstate(divide="ignore"):
        found: Floats = ndtr(np.log(np.maximum(credit, 0.0) / median) / sigma)
    return found


def _sine_above(low: Floats, high: Floats, threshold_c: float) -> Floats:
    mean, amplitude = (low + high) / 2, (high - low) / 2
    crossed = (low < threshold_c) & (threshold_c < high)
    below = np.divide(threshold_c - mean, amplitude, out=np.zeros_like(mean), where=crossed)
    theta = np.arcsin(below.clip(-1, 1))
    partly = ((mean - threshold_c) * (np.pi / 2 - theta) + amplitude * np.cos(theta)) / np.pi
    found: Floats = np.where(
        low >= threshold_c, mean - threshold_c, np.where(high <= threshold_c, 0.0, partly)
    )
    return found


def _refuse_outside(sums: Floats, starts: Floats, needed: Floats) -> None:
    if not (np.all(np.isfinite(sums)) and np.all(np.diff(sums) >= 0)):
        raise OutOfDomain("cumulative_dd", "cumulative_dd must be numbers that never fall.")
    if not np.all((starts >= 0) & (starts <= sums.size - 1)):
        raise OutOfDomain("start_hours", f"start_hours must lie between 0 and {sums.size - 1}.")
    if not np.all((needed >= 0) & np.isfinite(needed)):
        raise OutOfDomain("needed_dd", "needed_dd must be zero or more.")


def _temperatures(name: str, given: ArrayLike) -> Floats:
    found = np.asarray(given, dtype=np.float64)
    if not np.all((found >= COLDEST_C) & (found <= HOTTEST_C)):
        raise OutOfDomain(name, f"{name} must lie between {COLDEST_C} and {HOTTEST_C}.")
    return found
