"""Arrays of days known by their extremes against the plain function, at every bend."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science import arrays
from service.science.thermal import single_sine_degree_days
from tests.science.logs import tenths

GRID = [(low, high) for low in (-1, 4, 9, 20, 28, 34) for high in (-1, 4, 9, 20, 28, 34, 45) if low <= high]


@pytest.mark.parametrize("optimum", [None, 28.0])
def test_sine_days_at_every_bend_are_those_of_the_plain_function(optimum: float | None) -> None:
    lows, highs = zip(*GRID, strict=True)
    found = arrays.sine_degree_days(lows, highs, 9.0, optimum)
    plain = [single_sine_degree_days(low, high, 9.0, optimum) for low, high in GRID]
    assert found == pytest.approx(plain, abs=1e-12)


@given(st.lists(st.tuples(tenths(-1, 45), tenths(-1, 45)), min_size=1, max_size=30), tenths(0, 20))
def test_sine_days_are_those_of_the_plain_function(
    pairs: list[tuple[float, float]], threshold: float
) -> None:
    lows, highs = [min(pair) for pair in pairs], [max(pair) for pair in pairs]
    found = arrays.sine_degree_days(lows, highs, threshold, threshold + 15)
    plain = [
        single_sine_degree_days(low, high, threshold, threshold + 15)
        for low, high in zip(lows, highs, strict=True)
    ]
    assert found == pytest.approx(plain, abs=1e-12)


def test_sine_days_of_any_shape() -> None:
    found = arrays.sine_degree_days([[6.0, 18.0], [2.0, 4.0]], [[16.0, 24.0], [8.0, 10.0]], 9.0)
    assert found == pytest.approx(np.array([[2.7207, 12.0], [0.0, 0.1763]]), abs=5e-5)
    assert float(arrays.sine_degree_days(6.0, 16.0, 9.0)) == pytest.approx(2.7207, abs=5e-5)
    assert float(arrays.sine_degree_days(9.0, 9.0, 9.0)) == 0.0
    assert float(arrays.sine_degree_days(21.0, 21.0, 9.0)) == 12.0


def test_a_swing_that_is_almost_none_is_no_trouble() -> None:
    assert arrays.sine_degree_days([0.0], [1e-308], 9.0).tolist() == [0.0]
    # The threshold is the very next number above the lowest: the day is worth its mean.
    just_above = float(np.nextafter(3.6, 4.0))
    assert arrays.sine_degree_days([3.6], [20.495802234258154], just_above)[0] == pytest.approx(8.447901117)
