"""Plans for lots that are large, or of unknown size: each look is as good as the one before.

Formulas 3 to 12 of ISPM 31, appendix 1 (their numbers from memory). An infested unit is found with the
probability `sensitivity`, so one look finds something with f = sensitivity x detection level.
"""

import math
from decimal import Decimal

import numpy as np

from service.science.domain import share, within
from service.science.sampling import (
    LARGEST_LOT,
    LEAST_CONFIDENCE,
    LEAST_SENSITIVITY,
    allowed_miss,
    refuse_confidence,
)

BLOCK = 65_536
LEAST_CORRELATION = 1e-9


def binomial_miss(detection_level: Decimal, sample_size: int, sensitivity: float) -> float:
    """Chance that so many looks find nothing: (1 - f)^n."""
    within("sample_size", sample_size, 0, LARGEST_LOT)
    return (1 - _found_each(detection_level, sensitivity)) ** sample_size


def binomial_sample_size(detection_level: Decimal, confidence: Decimal, sensitivity: float) -> int:
    """Fewest units to look at to find one with the confidence: n = ceil(ln(1-C) / ln(1-f))."""
    found = _found_each(detection_level, sensitivity)
    allowed = allowed_miss(confidence)
    return 1 if found == 1 else math.ceil(math.log(allowed) / math.log1p(-found))


def poisson_sample_size(detection_level: Decimal, confidence: Decimal, sensitivity: float) -> int:
    """As `binomial_sample_size`, a little above it: n = ceil(-ln(1-C) / f), the finds being Poisson's."""
    found = _found_each(detection_level, sensitivity)
    return math.ceil(-math.log(allowed_miss(confidence)) / found)


def beta_binomial_miss(
    detection_level: Decimal, sample_size: int, sensitivity: float, intra_lot_correlation: float
) -> float:
    """Chance that so many looks find nothing where finds come together: product of (1-f+jt) / (1+jt).

    t = correlation / (1 - correlation), that of two finds in the lot; none makes the binomial. For units
    drawn in clusters, or a lot put together from several; a simple random draw from one small lot is
    hypergeometric however the pest is spread.
    """
    found = _found_each(detection_level, sensitivity)
    within("sample_size", sample_size, 0, LARGEST_LOT)
    if sample_size == 0 or found == 1:
        return float(sample_size == 0)
    return math.exp(float(np.sum(_log_missed(found, _spread(intra_lot_correlation), 0, sample_size))))


def beta_binomial_sample_size(
    detection_level: Decimal, confidence: Decimal, sensitivity: float, intra_lot_correlation: float
) -> int | None:
    """Fewest units to look at where finds come together; None when ten million are too few."""
    found = _found_each(detection_level, sensitivity)
    spread, target = _spread(intra_lot_correlation), math.log(allowed_miss(confidence))
    if found == 1:
        return 1
    missed = 0.0
    for start in range(0, LARGEST_LOT, BLOCK):
        row = missed + np.cumsum(_log_missed(found, spread, start, start + BLOCK))
        enough = int(np.count_nonzero(row > target))
        if enough < BLOCK:
            return start + enough + 1
        missed = float(row[-1])
    return None


def upper_share(sample_size: int, confidence: Decimal, sensitivity: float) -> float:
    """Largest infested share of a large lot that a clean look allows for: (1 - (1-C)^(1/n)) / s, at most 1.

    At 95 % it is near 3 / (n s), the rule of three.
    """
    within("sample_size", sample_size, 0, LARGEST_LOT)
    within("sensitivity", sensitivity, LEAST_SENSITIVITY, 1)
    refuse_confidence(confidence)
    if sample_size == 0:
        return 1.0
    return min(1.0, -math.expm1(math.log(float(1 - confidence)) / sample_size) / sensitivity)


def _found_each(detection_level: Decimal, sensitivity: float) -> float:
    share("detection_level", detection_level)
    within("detection_level", detection_level, LEAST_CONFIDENCE, 1)
    within("sensitivity", sensitivity, LEAST_SENSITIVITY, 1)
    return float(detection_level) * sensitivity


def _spread(correlation: float) -> float:
    within("intra_lot_correlation", correlation, 0, 1 - LEAST_CORRELATION)
    return correlation / (1 - correlation)


def _log_missed(found: float, spread: float, start: int, stop: int) -> np.ndarray:
    looks = np.arange(start, stop, dtype=np.float64)
    return np.log1p(-found / (1 + looks * spread))
