"""The logarithmic hypergeometric row against scipy."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from service.science.hypergeometric import log_none_drawn, log_probabilities

LOTS = st.integers(1, 400).flatmap(
    lambda total: st.tuples(st.just(total), st.integers(0, total), st.integers(0, total))
)


@given(LOTS)
def test_every_chance_is_that_of_scipy(lot: tuple[int, int, int]) -> None:
    total, marked, drawn = lot
    row = dict(log_probabilities(total, marked, drawn))
    assert sorted(row) == list(range(max(0, marked + drawn - total), min(marked, drawn) + 1))
    for common, log_probability in row.items():
        expected = stats.hypergeom.pmf(common, total, marked, drawn)
        assert math.exp(log_probability) == pytest.approx(expected, rel=1e-8, abs=1e-300)


@given(LOTS)
def test_the_chances_of_a_row_are_one_together(lot: tuple[int, int, int]) -> None:
    chances = [math.exp(log_probability) for _, log_probability in log_probabilities(*lot)]
    assert math.fsum(chances) == pytest.approx(1, rel=1e-11)


@given(LOTS)
def test_that_none_is_drawn_is_the_chance_of_zero(lot: tuple[int, int, int]) -> None:
    total, marked, drawn = lot
    expected = stats.hypergeom.pmf(0, total, marked, drawn)
    assert math.exp(log_none_drawn(total, marked, drawn)) == pytest.approx(expected, rel=1e-8, abs=1e-300)


@pytest.mark.parametrize(("marked", "drawn"), [(1000, 2985), (50_000, 59)])
def test_a_million_units_lose_no_digits(marked: int, drawn: int) -> None:
    # The same product in exact arithmetic: prod (N - D - i) / (N - i).
    numerator = math.prod(1_000_000 - marked - index for index in range(drawn))
    denominator = math.prod(1_000_000 - index for index in range(drawn))
    exact = float(numerator * 10**30 // denominator) / 1e30
    assert math.exp(log_none_drawn(1_000_000, marked, drawn)) == pytest.approx(exact, rel=1e-13)
