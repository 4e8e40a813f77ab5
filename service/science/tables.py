"""Reading between the rows of a small table."""

from collections.abc import Sequence
from itertools import pairwise

from service.science.domain import within


def interpolated(parameter: str, value: float, rows: Sequence[tuple[float, float]]) -> float:
    """Straight line between the two rows around the value; OutOfDomain, by parameter, outside the table."""
    within(parameter, value, rows[0][0], rows[-1][0])
    (low, start), (high, end) = next(pair for pair in pairwise(rows) if value <= pair[1][0])
    return start + (end - start) * (value - low) / (high - low)
