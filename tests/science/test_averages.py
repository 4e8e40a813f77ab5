"""The middle of a few numbers and a cost per unit, with limits."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.averages import median_interval, ratio_of_sums
from service.science.domain import OutOfDomain

VALUES = st.lists(st.floats(0, 1000), min_size=1, max_size=60)


@given(VALUES)
def test_the_limits_of_a_median_are_values_that_were_seen(values: list[float]) -> None:
    middle, limits = median_interval(values)
    assert (limits is None) == (len(values) < 6)
    if limits is not None:
        assert limits.low <= middle <= limits.high
        assert {limits.low, limits.high} <= set(values)


def test_five_values_are_too_few_for_limits() -> None:
    # The least and the largest of five hold the median in 1 - 2 / 32 = 93.75 %.
    assert median_interval([1, 2, 3, 4, 5]) == (3.0, None)
    assert median_interval([1, 2, 3, 4, 5], 0.94) == (3.0, None)
    for sure in (0.9375, 0.93):
        limits = median_interval([1, 2, 3, 4, 5], sure)[1]
        assert limits is not None
        assert (limits.low, limits.high) == (1, 5)


@given(st.lists(st.tuples(st.floats(0, 100), st.floats(1, 100)), min_size=2, max_size=30))
def test_a_ratio_lies_within_its_limits_and_never_below_nothing(parts: list[tuple[float, float]]) -> None:
    ratio, limits = ratio_of_sums(parts)
    assert limits is not None
    assert 0 <= limits.low <= ratio + 1e-12
    assert ratio <= limits.high + 1e-12


def test_lots_of_one_price_leave_no_doubt_and_one_lot_has_no_limits() -> None:
    ratio, limits = ratio_of_sums([(2, 4), (5, 10), (1, 2)])
    assert ratio == 0.5
    assert limits is not None
    assert math.isclose(limits.low, limits.high)
    assert ratio_of_sums([(2, 4)]) == (0.5, None)


def test_what_cannot_be_averaged_is_refused() -> None:
    for parts in ([], [(1.0, 0.0)], [(-1.0, 2.0)], [(1.0, -2.0)]):
        with pytest.raises(OutOfDomain):
            ratio_of_sums(parts)
    with pytest.raises(OutOfDomain):
        median_interval([])
