"""Rates, variants, hatching shares and single-sine days against published forms and worked tables."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from service.science.arrays import sine_degree_days
from service.science.development import (
    SNAIL_VISIBILITY,
    Development,
    rate,
    share_hatched,
    single_sine_degree_days,
    variants,
)
from service.science.domain import OutOfDomain
from tests.science.logs import PHYSID, POND, RAMSHORN


@pytest.mark.parametrize(
    ("celsius", "per_day"),
    [(8, 0), (9, 0), (12, 3), (21.1, 12.1), (28, 19), (30, 19), (34, 19), (34.1, 0)],
)
def test_development_starts_above_the_threshold_levels_off_and_stops(celsius: float, per_day: float) -> None:
    assert rate(celsius, POND) == pytest.approx(per_day)


@pytest.mark.parametrize("development", [PHYSID, RAMSHORN, POND, SNAIL_VISIBILITY])
def test_the_constant_is_the_anchors_days_times_its_warmth(development: Development) -> None:
    through_anchor = development.anchor_days * (development.anchor_c - development.lower_threshold_c)
    assert development.thermal_constant_dd == pytest.approx(through_anchor)


def test_variants_bend_about_the_anchor() -> None:
    default, low, high = variants(POND)
    assert default is POND
    assert (low.lower_threshold_c, low.thermal_constant_dd) == (5.0, 240.0)
    assert (high.lower_threshold_c, high.thermal_constant_dd) == (9.5, 168.0)
    assert variants(SNAIL_VISIBILITY) == (SNAIL_VISIBILITY,)


@pytest.mark.parametrize(
    ("minimum", "maximum", "threshold", "optimum", "expected"),
    [
        # Baskerville & Emin 1969, closed form equal to numerical integration to four decimals.
        (18, 24, 9, None, 12.0000),
        (6, 16, 9, None, 2.7207),
        (4, 10, 9, None, 0.1763),
        (2, 8, 9, None, 0.0),
        (20, 34, 9, 28, 16.2491),
        (24, 32, 9, 28, 17.7268),
        (29, 33, 9, 28, 19.0000),
        (5, 31, 9, 28, 9.2390),
        (40, 70, 50, None, 7.5424),  # °F
        (54, 74, 53, None, 11.0),  # °F; UC IPM's own example, 64 - 53 = 11
    ],
)
def test_a_day_known_by_its_extremes_is_a_sine(
    minimum: float, maximum: float, threshold: float, optimum: float | None, expected: float
) -> None:
    found = single_sine_degree_days(minimum, maximum, threshold, optimum)
    assert found == pytest.approx(expected, abs=5e-5)


@given(st.floats(-1, 40), st.floats(0.5, 15), st.floats(0, 15), st.floats(1, 20))
def test_the_sine_day_is_the_integral_of_the_sine(
    minimum: float, swing: float, threshold: float, above: float
) -> None:
    optimum = threshold + above
    mean, amplitude = minimum + swing / 2, swing / 2

    def credit(turn: float) -> float:
        # The sine as its own arcsine distribution: half a turn from lowest to highest.
        celsius = mean - amplitude * float(stats.arcsine.ppf(turn) * -2 + 1)
        return min(max(celsius - threshold, 0.0), optimum - threshold)

    expected, _ = integrate.quad(credit, 0, 1, limit=200)
    found = single_sine_degree_days(minimum, minimum + swing, threshold, optimum)
    assert found == pytest.approx(expected, abs=2e-3)


@given(st.integers(-10, 400), st.integers(0, 200), st.integers(0, 200), st.integers(10, 200))
def test_the_sine_day_is_the_same_on_any_scale(low: int, swing: int, threshold: int, above: int) -> None:
    """In tenths of a degree, so that no threshold comes nearer to an extreme than a probe can tell."""
    celsius = [number / 10 for number in (low, low + swing, threshold, threshold + above)]
    fahrenheit = [32 + 1.8 * value for value in celsius]
    in_celsius = single_sine_degree_days(*celsius)
    assert single_sine_degree_days(*fahrenheit) == pytest.approx(1.8 * in_celsius, abs=1e-6)


@given(st.integers(-10, 400), st.integers(0, 200), st.integers(0, 200), st.integers(0, 100))
def test_a_warmer_day_is_never_worth_less(low: int, swing: int, threshold: int, warmer: int) -> None:
    cool, warm = ((low + more) / 10 for more in (0, warmer))
    limits = threshold / 10, threshold / 10 + 19
    found = single_sine_degree_days(warm, warm + swing / 10, *limits)
    assert 0 <= single_sine_degree_days(cool, cool + swing / 10, *limits) <= found + 1e-9 <= 19 + 2e-9


def test_a_day_without_swing_is_its_temperature() -> None:
    assert single_sine_degree_days(21, 21, 9) == 12
    assert single_sine_degree_days(9, 9, 9) == 0


@pytest.mark.parametrize(("minimum", "maximum"), [(10, 9), (float("nan"), 9)])
def test_a_day_whose_lowest_lies_above_its_highest_is_refused(minimum: float, maximum: float) -> None:
    with pytest.raises(OutOfDomain):
        single_sine_degree_days(minimum, maximum, 9)


@pytest.mark.parametrize(
    ("day", "share"), [(10, 0.022), (14.55, 0.501), (18, 0.874), (21.8, 0.985), (25, 0.998)]
)
def test_the_share_hatched_at_21_degrees_is_log_normal(day: float, share: float) -> None:
    degree_days = day * 12.1
    assert share_hatched(degree_days, POND) == pytest.approx(share, abs=6e-4)
    oracle = stats.lognorm.cdf(degree_days, s=0.186, scale=POND.thermal_constant_dd)
    assert share_hatched(degree_days, POND) == pytest.approx(oracle, rel=1e-9)


def test_nothing_hatches_without_warmth() -> None:
    assert share_hatched(0, POND) == 0
    with pytest.raises(OutOfDomain):
        share_hatched(100, POND, sigma=0)


@pytest.mark.parametrize(
    ("parameter", "change"),
    [
        ("thermal_constant_dd", {"thermal_constant_dd": 0.0}),
        ("anchor_days", {"anchor_days": -1.0}),
        ("lower_threshold_range", {"lower_threshold_range": (9.5, 10.0)}),
        ("lower_threshold_c", {"lower_threshold_range": (5.0, 20.0)}),
        ("lower_threshold_c", {"lower_threshold_c": float("nan"), "lower_threshold_range": None}),
        ("optimum_c", {"optimum_c": 35.0}),
    ],
)
def test_figures_that_contradict_each_other_are_no_development(
    parameter: str, change: dict[str, float]
) -> None:
    with pytest.raises(OutOfDomain) as refusal:
        replace(POND, **change)  # type: ignore[arg-type]  # a table of wrong figures
    assert refusal.value.parameter == parameter


def test_a_threshold_a_rounding_step_from_the_lowest_is_answered() -> None:
    found = single_sine_degree_days(3.6, 20.495802234258154, 3.6000000000000005)
    assert found == pytest.approx((20.495802234258154 - 3.6) / 2)


@pytest.mark.parametrize("optimum", [8.9, float("nan"), float("inf")])
def test_a_cut_below_the_threshold_would_take_credit_away_and_is_refused(optimum: float) -> None:
    for refused in (
        lambda: single_sine_degree_days(18, 24, 9, optimum),
        lambda: sine_degree_days([18.0], [24.0], 9, optimum),
    ):
        with pytest.raises(OutOfDomain) as problem:
            refused()
        assert problem.value.parameter == "optimum_c"
    assert single_sine_degree_days(18, 24, 9, 9) == 0
