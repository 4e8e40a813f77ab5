"""Medians by ranks and ratios of sums, against tables and general libraries."""

import numpy as np
import pytest
from scipy import stats

from service.science.averages import median_interval, ratio_of_sums
from tests.reference.outside import Kind, outside


@outside(Kind.MEMORY, "tables of ranks for a 95 % interval of a median, as in Conover, appendix")
@pytest.mark.parametrize(
    ("many", "low", "high"),
    [(6, 1, 6), (8, 1, 8), (9, 2, 8), (10, 2, 9), (15, 4, 12), (20, 6, 15), (30, 10, 21)],
)
def test_the_ranks_of_a_median(many: int, low: int, high: int) -> None:
    _, limits = median_interval(list(range(1, many + 1)))
    assert limits is not None
    assert (limits.low, limits.high) == (low, high)


@outside(Kind.LIBRARY, "scipy.stats.quantile_test, its 95 % interval")
@pytest.mark.parametrize("many", [12, 25, 40])
def test_the_limits_of_a_median_are_those_of_the_sign_test(many: int) -> None:
    values = np.random.default_rng(many).normal(20, 4, many)
    expected = stats.quantile_test(values, q=values.mean(), p=0.5).confidence_interval(0.95)
    _, limits = median_interval(values.tolist())
    assert limits is not None
    assert (limits.low, limits.high) == pytest.approx((expected.low, expected.high))


@outside(Kind.LIBRARY, "scipy.stats.t.interval about a mean: a ratio over lots of one size is one")
def test_a_ratio_over_equal_lots_is_a_mean() -> None:
    costs = [3.0, 4.5, 2.2, 6.1, 3.9]
    expected = stats.t.interval(0.95, 4, loc=np.mean(costs), scale=stats.sem(costs))
    ratio, limits = ratio_of_sums([(cost, 1.0) for cost in costs])
    assert ratio == pytest.approx(np.mean(costs))
    assert limits is not None
    assert (limits.low, limits.high) == pytest.approx(expected)
