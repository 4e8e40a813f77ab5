"""The sampling plans of a whole nursery at once: the exact sums of `sampling`, over arrays of lots.

Arrays are broadcast against each other as numpy does; what is whole is int64, what is a chance float64. Each
element is that of the function for one lot: the same size, the same chance to about ten digits.
"""

import math
from decimal import Decimal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.science.domain import OutOfDomain
from service.science.sampling import LARGEST_LOT, LEAST_SENSITIVITY, allowed_miss

UNREACHABLE = -1  # no number of units to look at: nobody can mistake it for one

Whole = NDArray[np.int64]
Chances = NDArray[np.float64]


def miss_probabilities(
    lot_sizes: ArrayLike, infested: ArrayLike, sample_sizes: ArrayLike, sensitivities: ArrayLike
) -> Chances:
    """Chance, lot by lot, that a look at a random sample finds none of the infested units.

    Any shapes that go together, of one or more dimensions or plain numbers; the result has the common shape,
    float64. OutOfDomain when an element is outside what `sampling.miss_probability` takes.
    """
    total, marked, found = _lots(lot_sizes, infested, sensitivities)
    drawn = _whole("sample_sizes", sample_sizes)
    total, marked, drawn, found = np.broadcast_arrays(total, marked, drawn, found)
    _refuse("sample_sizes", (drawn >= 0) & (drawn <= total))
    return _missed(total, marked, drawn, found)


def sample_sizes(
    lot_sizes: ArrayLike, infested: ArrayLike, confidence: Decimal, sensitivities: ArrayLike
) -> Whole:
    """Fewest units to look at, lot by lot; -1 (`UNREACHABLE`) where a look at all of them is too little.

    Any shapes that go together; the result has the common shape, int64. OutOfDomain as for one lot.
    """
    allowed = allowed_miss(confidence)
    total, marked, found = np.broadcast_arrays(*_lots(lot_sizes, infested, sensitivities))
    exponent = math.log(float(1 - confidence)) / marked
    bound = np.minimum(np.ceil(total / found * -np.expm1(exponent)) + 1, total)
    low, high = np.zeros_like(total), bound.astype(np.int64)
    while np.any(high - low > 1):
        middle = (low + high) // 2
        enough = _missed(total, marked, middle, found) <= allowed
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    reachable = _missed(total, marked, total, found) <= allowed
    return np.where(reachable, high, UNREACHABLE)


def _missed(total: Whole, marked: Whole, drawn: Whole, found: Chances) -> Chances:
    """The sum over k of the chance of k among the drawn, times (1 - s)^k, term by term for all lots."""
    few, many = np.minimum(marked, drawn), np.maximum(marked, drawn)
    crowded = few + many > total
    others = np.where(crowded, total - many, many)  # as in `hypergeometric`: counts those left out instead
    log_chance = _log_none(total, few, others)
    # With eyes that miss nothing only the first term is left.
    last = np.where(found == 1, 0, np.minimum(few, others))
    missed = np.zeros(total.shape)
    for common in range(int(np.max(last, initial=0)) + 1):
        infested_drawn = np.maximum(np.where(crowded, few - common, common), 0)
        missed += np.exp(log_chance) * (1 - found) ** infested_drawn
        ways = np.maximum(few - common, 0) * np.maximum(others - common, 0)
        back = (common + 1) * (total - few - others + common + 1)
        with np.errstate(divide="ignore"):  # no way on: the log of 0 ends the row of this lot
            log_chance = log_chance + np.log(ways / back)
    return missed


def _log_none(total: Whole, marked: Whole, drawn: Whole) -> Chances:
    few, many = np.minimum(marked, drawn), np.maximum(marked, drawn)
    log_chance = np.zeros(total.shape)
    for index in range(int(np.max(few, initial=0))):
        factor = np.log1p(-many / np.maximum(total - index, many + 1))
        log_chance += np.where(index < few, factor, 0.0)
    return log_chance


def _lots(
    lot_sizes: ArrayLike, infested: ArrayLike, sensitivities: ArrayLike
) -> tuple[Whole, Whole, Chances]:
    total, marked = _whole("lot_sizes", lot_sizes), _whole("infested", infested)
    found = np.asarray(sensitivities, dtype=np.float64)
    _refuse("lot_sizes", (total >= 1) & (total <= LARGEST_LOT))
    _refuse("infested", (marked >= 1) & (marked <= total))
    _refuse("sensitivities", (found >= LEAST_SENSITIVITY) & (found <= 1))
    return total, marked, found


def _whole(parameter: str, values: ArrayLike) -> Whole:
    given = np.asarray(values)
    _refuse(parameter, np.isfinite(given) & (given == np.floor(given)))
    return given.astype(np.int64)


def _refuse(parameter: str, allowed: NDArray[np.bool_]) -> None:
    if not np.all(allowed):
        place = [int(index) for index in np.argwhere(~np.atleast_1d(allowed))[0]]
        raise OutOfDomain(parameter, f"{parameter} has a value out of its range at {place}.")
