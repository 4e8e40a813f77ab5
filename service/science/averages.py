"""The middle of a few numbers, and a cost per unit over lots of unlike size, each with limits."""

import math
from collections.abc import Sequence
from statistics import median

import numpy as np
from scipy.special import bdtr, stdtrit

from service.science.domain import OutOfDomain, not_negative, within
from service.science.proportions import LEAST_CONFIDENCE, Interval

MOST_VALUES = 1_000_000


def median_interval(values: Sequence[float], confidence: float = 0.95) -> tuple[float, Interval | None]:
    """The median, and its limits from the values themselves, whatever their distribution.

    The narrowest pair of order statistics, r and n + 1 - r, between which the median lies with at least the
    confidence: P(Binomial(n, 1/2) < r) at most half of the rest (Conover, Practical Nonparametric Statistics,
    3rd ed. 1999, 3.2). No limits below six values at 95 %: their least and largest are not sure enough.
    """
    within("confidence", confidence, LEAST_CONFIDENCE, 1 - LEAST_CONFIDENCE)
    within("values", len(values), 1, MOST_VALUES)
    ordered = sorted(values)
    middle = float(median(ordered))
    below = bdtr(np.arange(len(ordered) // 2 + 1), len(ordered), 0.5)
    rank = int(np.searchsorted(below, (1 - confidence) / 2, side="right")) - 1
    if rank < 0:
        return middle, None
    return middle, Interval(middle, ordered[rank], ordered[len(ordered) - 1 - rank])


def ratio_of_sums(
    parts: Sequence[tuple[float, float]], confidence: float = 0.95
) -> tuple[float, Interval | None]:
    """Sum of the first over sum of the second, such as cost over units, with limits by Student's t.

    Standard error sqrt(n sum (y - r x)² / (n - 1)) / sum x over n lots as a large sample of many (Cochran,
    Sampling Techniques, 3rd ed. 1977, 2.11 and 6.4). One lot has no limits. OutOfDomain without any unit.
    """
    within("confidence", confidence, LEAST_CONFIDENCE, 1 - LEAST_CONFIDENCE)
    for top, bottom in parts:
        not_negative("parts", top)
        not_negative("parts", bottom)
    total = math.fsum(bottom for _, bottom in parts)
    if total == 0:
        raise OutOfDomain("parts", "There is nothing to divide by.")
    ratio = math.fsum(top for top, _ in parts) / total
    if len(parts) < 2:
        return ratio, None
    squares = math.fsum((top - ratio * bottom) ** 2 for top, bottom in parts)
    error = math.sqrt(len(parts) * squares / (len(parts) - 1)) / total
    spread = float(stdtrit(len(parts) - 1, (1 + confidence) / 2)) * error
    return ratio, Interval(ratio, max(0.0, ratio - spread), ratio + spread)
