"""When the last egg has hatched: the spread of hatching, for one egg and for the last of many."""

import math

import numpy as np
from scipy.special import log_ndtr

from service.science.domain import positive, within
from service.science.freedom import SPREAD_BETWEEN_LOTS, SPREAD_WITHIN_LOT

LOT_POINTS = 2001
FARTHEST_LOT = 8.0  # standard deviations; equally likely lots would leave out the late ones that decide
MOST_EGGS = 1_000_000
LARGEST_LOG_FACTOR = 3.0
PRECISION = 1e-10

_LOTS = np.linspace(-FARTHEST_LOT, FARTHEST_LOT, LOT_POINTS)
_WEIGHTS = np.exp(-(_LOTS**2) / 2)


def all_hatched_probability(factor: float, eggs: float) -> float:
    """Chance that the last of `eggs` has hatched after `factor` medians of the time to hatch.

    Integral of phi(z) Phi((ln F - s z) / w)^N: the spread s between lots is shared by all eggs of a lot, the
    spread w within a lot is each egg's own.
    """
    positive("factor", factor)
    within("eggs", eggs, 1, MOST_EGGS)
    return _all_hatched(math.log(factor), eggs)


def hatch_out_factor(eggs: float, confidence: float) -> float:
    """Medians of the time to hatch after which the last of `eggs` has hatched with this confidence."""
    within("eggs", eggs, 1, MOST_EGGS)
    within("confidence", confidence, 0.001, 0.9999)
    low, high = -LARGEST_LOG_FACTOR, LARGEST_LOG_FACTOR
    while high - low > PRECISION:
        middle = (low + high) / 2
        if _all_hatched(middle, eggs) < confidence:
            low = middle
        else:
            high = middle
    return math.exp(high)


def _all_hatched(log_factor: float, eggs: float) -> float:
    within_lot = (log_factor - SPREAD_BETWEEN_LOTS * _LOTS) / SPREAD_WITHIN_LOT
    return float(np.average(np.exp(eggs * log_ndtr(within_lot)), weights=_WEIGHTS))
