"""Threshold and constant from observations: our table of fits, exact lines, laws, and refusals."""

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.domain import OutOfDomain
from service.science.refit import refit

PHYSELLA = [(15.0, 23.0), (20.0, 12.0), (25.0, 8.5)]  # 25 °C read, the others from memory
BIOMPHALARIA = [(20.0, 14.0), (25.0, 8.0), (30.0, 6.5)]  # from memory
STAGNALIS = [(20.0, 16.0), (25.0, 11.0)]  # 25 °C from memory
MICROPLANA = [(7.1, 85.0), (11.5, 40.0), (16.9, 28.0)]
DENDROCOELUM = [(float(c), math.exp(6.12 - 1.17 * math.log(c))) for c in range(4, 17, 2)]

Rows = list[tuple[float, float]]


# Our own notes: T0 and K with their standard errors, and R².
@pytest.mark.parametrize(
    ("rows", "threshold", "constant", "r_squared"),
    [
        (MICROPLANA, (1.88, 1.29), (412.1, 49.5), 0.986),
        (PHYSELLA, (9.01, 0.51), (134.8, 5.8), 0.998),
        (BIOMPHALARIA, (10.83, 2.55), (121.3, 21.0), 0.971),
        ([*PHYSELLA, *BIOMPHALARIA, *STAGNALIS], (9.96, 1.82), (134.1, 18.4), 0.899),
    ],
)
def test_the_fits_of_the_notes(
    rows: Rows, threshold: tuple[float, float], constant: tuple[float, float], r_squared: float
) -> None:
    found = refit(rows)
    assert (found.lower_threshold_c, found.lower_threshold_error_c) == pytest.approx(threshold, abs=5e-3)
    assert (found.thermal_constant_dd, found.thermal_constant_error_dd) == pytest.approx(constant, abs=5e-2)
    assert found.r_squared == pytest.approx(r_squared, abs=5e-4)
    assert found.observations == len(rows)


def test_the_curve_of_dendrocoelum_is_refitted() -> None:
    found = refit(DENDROCOELUM)
    assert found.lower_threshold_c == pytest.approx(1.25, abs=5e-3)
    assert found.thermal_constant_dd == pytest.approx(264.8, abs=5e-2)
    assert found.r_squared == pytest.approx(0.999, abs=5e-4)
    assert found.observations == 7


def test_two_points_give_a_line_but_no_errors() -> None:
    found = refit(STAGNALIS)
    assert found.lower_threshold_c == pytest.approx(9.0, abs=1e-9)
    assert found.thermal_constant_dd == pytest.approx(176.0, abs=1e-9)
    assert (found.lower_threshold_error_c, found.thermal_constant_error_dd) == (None, None)
    assert found.r_squared == pytest.approx(1.0)
    assert found.observations == 2


def test_three_points_give_errors() -> None:
    found = refit([*STAGNALIS, (15.0, 176 / 6)])
    assert found.lower_threshold_error_c == pytest.approx(0.0, abs=1e-6)
    assert found.thermal_constant_error_dd == pytest.approx(0.0, abs=1e-6)


def test_several_tubs_at_one_temperature_count_each() -> None:
    found = refit([(20.0, 16.0), (20.0, 16.0), (25.0, 11.0), (25.0, 11.0)])
    assert found.lower_threshold_c == pytest.approx(9.0)
    assert found.observations == 4
    # Tubs that differ at one temperature are averaged by rate: 1/16 is the mean of 1/15 and 3/160... ± alike.
    uneven = refit([(20.0, 1 / 0.06), (20.0, 1 / 0.065), (25.0, 11.0), (25.0, 11.0)])
    assert uneven.lower_threshold_c == pytest.approx(9.0)
    assert uneven.lower_threshold_error_c is not None
    assert uneven.lower_threshold_error_c > 0.1


@pytest.mark.parametrize("celsius", [-1.0, 45.0])
def test_the_limits_of_a_probe_are_observations(celsius: float) -> None:
    days = 100 / (celsius + 10)
    assert refit([(celsius, days), (20.0, 100 / 30)]).lower_threshold_c == pytest.approx(-10.0)


@pytest.mark.parametrize(
    ("parameter", "rows"),
    [
        ("observations", []),
        ("observations", [(20.0, 16.0)]),
        ("observations", [(20.0, 16.0), (20.0, 15.0), (20.0, 14.0)]),
        ("observations", [(20.0, 16.0), (25.0, 17.0)]),
        ("observations", [(20.0, 16.0), (25.0, 11.0), (30.0, 11.0), (34.0, 40.0)]),
        ("celsius", [(-1.1, 16.0), (25.0, 11.0)]),
        ("celsius", [(20.0, 16.0), (45.1, 11.0)]),
        ("celsius", [(math.nan, 16.0), (25.0, 11.0)]),
        ("days", [(20.0, 0.0), (25.0, 11.0)]),
        ("days", [(20.0, 16.0), (25.0, -1.0)]),
        ("days", [(20.0, 16.0), (25.0, math.nan)]),
        ("days", [(20.0, math.inf), (25.0, 11.0)]),
    ],
)
def test_observations_without_sense_are_refused_by_name(parameter: str, rows: Rows) -> None:
    with pytest.raises(OutOfDomain) as problem:
        refit(rows)
    assert problem.value.parameter == parameter


@pytest.mark.parametrize("days", [3.0, 7.0, 12.0, 46.5])
@pytest.mark.parametrize("celsius", [(10.0, 20.0, 30.0), (18.0, 21.0, 25.0), (7.1, 11.5, 16.9)])
def test_eggs_that_hatch_alike_everywhere_are_refused_in_spite_of_rounding(
    days: float, celsius: tuple[float, ...]
) -> None:
    with pytest.raises(OutOfDomain, match="no sooner where it was warmer"):
        refit([(given, days) for given in celsius])


def test_a_weak_slope_is_still_a_slope() -> None:
    found = refit([(10.0, 20.0), (30.0, 19.9999)])
    assert found.thermal_constant_dd == pytest.approx(20 / (1 / 19.9999 - 1 / 20))


TEMPERATURES = st.lists(st.integers(12, 28), min_size=2, max_size=8).filter(lambda given: len(set(given)) > 1)


@given(st.floats(-5, 10), st.floats(20, 500), TEMPERATURES)
def test_exact_observations_give_back_what_they_were_made_from(
    threshold: float, constant: float, celsius: list[int]
) -> None:
    found = refit([(given, constant / (given - threshold)) for given in celsius])
    assert found.lower_threshold_c == pytest.approx(threshold, abs=1e-8)
    assert found.thermal_constant_dd == pytest.approx(constant, rel=1e-9)
    assert found.r_squared == pytest.approx(1.0)


@given(st.permutations([*PHYSELLA, *BIOMPHALARIA]))
def test_the_order_of_observations_does_not_matter(rows: Any) -> None:
    found, plain = refit(rows), refit([*PHYSELLA, *BIOMPHALARIA])
    assert found.lower_threshold_c == pytest.approx(plain.lower_threshold_c, abs=1e-9)
    assert found.lower_threshold_error_c == pytest.approx(plain.lower_threshold_error_c)
    assert found.thermal_constant_error_dd == pytest.approx(plain.thermal_constant_error_dd)


@given(st.floats(0.1, 30))
def test_in_another_unit_of_time_only_the_constant_changes(times: float) -> None:
    found, plain = refit([(celsius, days * times) for celsius, days in PHYSELLA]), refit(PHYSELLA)
    assert found.lower_threshold_c == pytest.approx(plain.lower_threshold_c, abs=1e-9)
    assert found.lower_threshold_error_c == pytest.approx(plain.lower_threshold_error_c)
    assert found.thermal_constant_dd == pytest.approx(plain.thermal_constant_dd * times)
    assert plain.thermal_constant_error_dd is not None
    assert found.thermal_constant_error_dd == pytest.approx(plain.thermal_constant_error_dd * times)
    assert found.r_squared == pytest.approx(plain.r_squared)
