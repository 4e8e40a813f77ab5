"""The chance that nothing is left in a lot after looks that all were clean, by the stage each look could see.

A unit is an egg mass or an animal. Eggs can hardly be seen, hatchlings are too small, so a row of early clean
looks proves little: each possible hatching day is followed by itself (form B with the day shared by the lot).
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betaincinv, ndtr, ndtri

from service.science.domain import OutOfDomain, not_negative, positive, share, within
from service.science.proportions import LEAST_CONFIDENCE, Interval

# sqrt(0.15² between strains + 0.038² thermometer + 0.05² model), and within a clutch; assumed.
SPREAD_BETWEEN_LOTS = math.sqrt(0.15**2 + 0.038**2 + 0.05**2)
SPREAD_WITHIN_LOT = 0.09
BETWEEN_POINTS, WITHIN_POINTS = 41, 101
ESCAPE_WEIGHT = 20  # infested lots that the assumed share never seen stands for, assumed
BAIT_ANIMALS = 3  # the sensitivities of bait are for so many animals or more

Floats = NDArray[np.float64]


# Standard normal values that stand for 41 equally likely lots.
LOTS: Floats = ndtri((np.arange(BETWEEN_POINTS) + 0.5) / BETWEEN_POINTS)


def unseen_shares(
    median_dd: ArrayLike,
    hatched_dd: ArrayLike,
    visible_dd: ArrayLike,
    misses: ArrayLike,
    *,
    hidden_young: float,
    hidden_grown: float,
) -> Floats:
    """Chance that a unit laid at the start is still unseen after all looks, for each possible lot: (..., 41).

    For each look (last axis, in any order): `hatched_dd`, degree-days since laying; `visible_dd`, the
    degree-days since laying at the moment from which on hatchlings had time to grow visible by the look
    (-inf when none had). `misses` (..., looks, 3): chance that the look misses an egg, a hatchling, a grown
    unit. `median_dd` (...) is the K50 of hatching. `hidden_young` is the share that no look finds as long as
    it is young, `hidden_grown` the part of it that is never found. OutOfDomain for shares that are none.
    """
    median, hatched, visible, missed = (
        np.asarray(given, dtype=np.float64) for given in (median_dd, hatched_dd, visible_dd, misses)
    )
    _refuse_outside(median, missed, hidden_young, hidden_grown)
    # Between two of these moments of development every look sees a unit that hatches there alike.
    edges = np.sort(np.concatenate([hatched, visible], axis=-1), axis=-1)
    ends = np.concatenate([edges, np.full((*edges.shape[:-1], 1), np.inf)], axis=-1)
    is_grown = ends[..., None] <= visible[..., None, :]
    is_hatched = ends[..., None] <= hatched[..., None, :]
    egg, hatchling, grown = (missed[..., None, :, stage] for stage in range(3))
    any_stage = np.where(is_grown, grown, np.where(is_hatched, hatchling, egg)).prod(axis=-1)
    grown_only = np.where(is_grown, grown, 1.0).prod(axis=-1)
    unseen = hidden_grown + (hidden_young - hidden_grown) * grown_only + (1 - hidden_young) * any_stage
    found: Floats = (_shares_between(edges, median) * unseen[..., None, :]).sum(axis=-1)
    return found


def _shares_between(edges_dd: Floats, median: Floats) -> Floats:
    """Share of a lot's units that hatch between each edge and the one before, and after the last.

    Shape (..., 41, edges + 1). The spread within a lot is stood for by 101 equally likely units.
    """
    with np.errstate(divide="ignore"):
        factors = np.log(np.maximum(edges_dd, 0.0) / median[..., None])
    hatched = ndtr((factors[..., None, :] - SPREAD_BETWEEN_LOTS * LOTS[:, None]) / SPREAD_WITHIN_LOT)
    counted = np.floor(WITHIN_POINTS * hatched + 0.5) / WITHIN_POINTS
    shares: Floats = np.diff(counted, axis=-1, prepend=0.0, append=1.0)
    return shares


def probability_of_freedom(expected: ArrayLike, unseen: ArrayLike) -> Floats:
    """P(nothing left | all looks clean) = 1 / E_z[exp(sum_j lambda_j q_j(z))], shape (...).

    `expected` (..., cohorts): living units at the start; `unseen` (..., cohorts, 41) by `unseen_shares`.
    Units that came in together share the lot's hatching days: it is lower than if each had its own.
    """
    summed = _left(expected, unseen)
    highest = summed.max(axis=-1)
    found: Floats = np.exp(-highest) / np.exp(summed - highest[..., None]).mean(axis=-1)
    return found


def units_left(expected: ArrayLike, unseen: ArrayLike) -> Floats:
    """Units that may still be there, on average, after all looks were clean; shapes as above."""
    summed = _left(expected, unseen)
    weights = np.exp(summed - summed.max(axis=-1, keepdims=True))
    found: Floats = (summed * weights).sum(axis=-1) / weights.sum(axis=-1)
    return found


def highest_reachable(expected: ArrayLike, hidden: ArrayLike) -> float:
    """What no number of clean looks can exceed: exp(-sum lambda x share never seen)."""
    return float(np.exp(-np.sum(np.asarray(expected) * np.asarray(hidden))))


def missed_by_look(looked_at: float, *, eyes: float = 0.0, strain: float = 0.0, bait: float = 0.0) -> float:
    """Chance that one look misses one unit: (1 - f eyes)(1 - strain)(1 - bait).

    Only eyes are scaled by the share of plants looked at (`looked_at`, 0..1); strain and bait see the whole
    tub. `bait` is for three animals or more and is turned into that for one.
    """
    within("looked_at", looked_at, 0, 1)
    for name, value in (("eyes", eyes), ("strain", strain), ("bait", bait)):
        within(name, value, 0, 1)
    return (1 - looked_at * eyes) * (1 - strain) * (1 - bait_for_one(bait))


def bait_for_one(sensitivity: float, animals: int = BAIT_ANIMALS) -> float:
    """Chance that bait draws one animal, when `sensitivity` is the chance to draw one of several."""
    within("sensitivity", sensitivity, 0, 1)
    positive("animals", animals)
    return 1.0 - float((1 - sensitivity) ** (1 / animals))


def expected_after_find(not_removed: float, removed: float, sensitivity: float, kill: float = 0.0) -> float:
    """Units expected after a look that found some: [left + (taken + 0.5)(1/Se - 1)](1 - kill)."""
    not_negative("not_removed", not_removed)
    not_negative("removed", removed)
    share("sensitivity", sensitivity)
    within("kill", kill, 0, 1)
    return (not_removed + (removed + 0.5) * (1 / sensitivity - 1)) * (1 - kill)


def expected_from_record(
    prior_alpha: float, prior_beta: float, infested: float, clean: float, kill: float = 0.0
) -> float:
    """Units expected in a supplier's lot: -ln(1 - mean of Beta(alpha + infested, beta + clean))(1 - kill)."""
    positive("prior_alpha", prior_alpha)
    positive("prior_beta", prior_beta)
    not_negative("infested", infested)
    not_negative("clean", clean)
    within("kill", kill, 0, 1)
    alpha, beta = prior_alpha + infested, prior_beta + clean
    return -math.log1p(-alpha / (alpha + beta)) * (1 - kill)


def infested_share(
    prior_alpha: float, prior_beta: float, infested: float, clean: float, confidence: float = 0.95
) -> Interval:
    """The share of a supplier's lots that come infested: mean and equal tails of Beta(a + i, b + c)."""
    positive("prior_alpha", prior_alpha)
    positive("prior_beta", prior_beta)
    not_negative("infested", infested)
    not_negative("clean", clean)
    within("confidence", confidence, LEAST_CONFIDENCE, 1 - LEAST_CONFIDENCE)
    alpha, beta = prior_alpha + infested, prior_beta + clean
    tail = (1 - confidence) / 2
    low, high = (float(betaincinv(alpha, beta, share)) for share in (tail, 1 - tail))
    return Interval(alpha / (alpha + beta), low, high)


def never_seen_after_escapes(assumed: float, found: int, escaped: int) -> float:
    """The share of infested lots that no look shows: the mean of a beta distribution, never below `assumed`.

    Assumed is the mean of Beta(w h, w (1 - h)), w = `ESCAPE_WEIGHT`; `found` lots were shown by looks,
    `escaped` ones by customers only: (w h + escaped) / (w + found + escaped). Silence proves nothing, so that
    the share never falls. OutOfDomain for a share that is none and for negative numbers.
    """
    within("assumed", assumed, 0, 1)
    not_negative("found", found)
    not_negative("escaped", escaped)
    learnt = (ESCAPE_WEIGHT * assumed + escaped) / (ESCAPE_WEIGHT + found + escaped)
    return max(assumed, learnt)


def after_clean_look(free: float, system_sensitivity: float, introduction: float = 0.0) -> float:
    """The plain recursion (Martin, Cameron & Greiner 2007): P' / (1 - S (1 - P')), P' = P (1 - r).

    It takes all units as equally visible at each look, so for eggs it claims too much: a cross-check.
    """
    within("free", free, 0, 1)
    within("system_sensitivity", system_sensitivity, 0, 1)
    within("introduction", introduction, 0, 1)
    before = free * (1 - introduction)
    if before == 0:
        return 0.0
    return before / (1 - system_sensitivity * (1 - before))


def _left(expected: ArrayLike, unseen: ArrayLike) -> Floats:
    numbers = np.asarray(expected, dtype=np.float64)
    if not np.all(np.isfinite(numbers)) or np.any(numbers < 0):
        raise OutOfDomain("expected", "expected must be zero or more units in each cohort.")
    summed: Floats = (numbers[..., None] * np.asarray(unseen, dtype=np.float64)).sum(axis=-2)
    return summed


def _refuse_outside(median: Floats, missed: Floats, hidden_young: float, hidden_grown: float) -> None:
    if not np.all(np.isfinite(median)) or np.any(median <= 0):
        raise OutOfDomain("median_dd", "median_dd must be a number above zero.")
    if not np.all((missed >= 0) & (missed <= 1)):
        raise OutOfDomain("misses", "misses must lie between 0 and 1.")
    within("hidden_young", hidden_young, 0, 1)
    within("hidden_grown", hidden_grown, 0, hidden_young)
