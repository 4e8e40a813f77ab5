"""Bleach: labels, density, ageing, the bottle's test."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science import chlorine
from service.science.chlorine import Basis, OutsideValidity
from service.science.domain import OutOfDomain

G_525, G_6, G_825 = (chlorine.available_chlorine_g_per_l(p, "naocl_ww") for p in (5.25, 6.0, 8.25))


@pytest.mark.parametrize(
    ("percent", "basis", "g_per_l"),
    [
        # Worked from the definitions (White 1972) and the density of fresh bleach.
        (3, "naocl_ww", 29.70),
        (5.25, "naocl_ww", 53.57),
        (6, "naocl_ww", 61.85),
        (8.25, "naocl_ww", 87.75),
        (12.5, "naocl_ww", 141.46),
        (12.5, "trade", 125),
        (10, "trade", 100),
        (10, "naocl_wv", 95.25),
        (5.001, "avail_cl_ww", 53.57),
    ],
)
def test_a_label_means_a_strength_only_with_its_basis(percent: float, basis: Basis, g_per_l: float) -> None:
    assert chlorine.available_chlorine_g_per_l(percent, basis) == pytest.approx(g_per_l, rel=1e-3)


@pytest.mark.parametrize("percent", [0, -1, 20.1, float("nan")])
def test_a_strength_no_bleach_has_is_refused(percent: float) -> None:
    with pytest.raises(OutOfDomain):
        chlorine.available_chlorine_g_per_l(percent, "trade")


@pytest.mark.parametrize(
    ("filled", "segments", "g_per_l"),
    [
        # The integrated second-order rate, worked once by closed form and once by an ODE solver.
        (G_825, [(180, 25)], 59.80),
        (G_825, [(365, 25)], 45.05),
        (G_825, [(365, 20)], 60.00),
        (G_6, [(365, 20)], 49.33),
        (G_6, [(90, 30)], 49.22),
        (G_525, [(365, 20)], 44.53),
        (G_525, [(60, 35)], 42.25),
        (G_825, [(30, 35), (150, 20)], 58.68),
        (G_825, [(150, 20), (30, 35)], 58.68),
        (125.0, [(30, 25)], 125 * 0.863),
        (G_6, [], G_6),
    ],
)
def test_bleach_ages_by_the_second_order(
    filled: float, segments: list[tuple[float, float]], g_per_l: float
) -> None:
    assert chlorine.aged_g_per_l(filled, segments) == pytest.approx(g_per_l, rel=2e-3)


@given(st.floats(25, 100), st.lists(st.tuples(st.floats(0, 40), st.floats(10, 25)), max_size=4))
def test_the_order_of_seasons_does_not_matter_and_more_time_leaves_less(
    filled: float, segments: list[tuple[float, float]]
) -> None:
    left = chlorine.hypochlorite_remaining(filled, segments)
    assert chlorine.hypochlorite_remaining(filled, segments[::-1]) == pytest.approx(left)
    assert chlorine.hypochlorite_remaining(filled, [*segments, (10, 15)]) < left <= 1


@given(st.floats(25, 100), st.floats(1, 100), st.floats(10, 24))
def test_a_warmer_store_leaves_less(filled: float, days: float, celsius: float) -> None:
    cool = chlorine.hypochlorite_remaining(filled, [(days, celsius)])
    assert chlorine.hypochlorite_remaining(filled, [(days, celsius + 1)]) < cool


@pytest.mark.parametrize(
    ("filled", "segments"),
    [
        (24.9, [(1, 20)]),
        (160.1, [(1, 20)]),
        (60, [(1, 9.9)]),
        (60, [(1, 60.1)]),
        (125, [(365, 30)]),  # more than half is gone
    ],
)
def test_outside_its_validity_the_model_says_nothing(
    filled: float, segments: list[tuple[float, float]]
) -> None:
    with pytest.raises(OutsideValidity):
        chlorine.hypochlorite_remaining(filled, segments)


def test_bleach_cannot_age_backwards() -> None:
    with pytest.raises(OutOfDomain):
        chlorine.hypochlorite_remaining(60, [(-1, 20)])
    with pytest.raises(OutOfDomain):
        chlorine.hypochlorite_remaining(float("nan"), [])


def test_density_and_the_way_back_from_grams_per_litre() -> None:
    # 120 g/L at 1.160 g/mL fixes the slope: 120 / 11.60 = 10.345 % by mass.
    assert chlorine.density_g_per_ml(10.345) == pytest.approx(1.1596, abs=2e-4)
    assert chlorine.density_g_per_ml(0) == 1
    assert chlorine.available_chlorine_percent(120) == pytest.approx(10.349, abs=1e-3)
    for refused in (-0.1, 20.1):
        with pytest.raises(OutOfDomain):
            chlorine.density_g_per_ml(refused)
    with pytest.raises(OutOfDomain):
        chlorine.available_chlorine_percent(0)


@given(st.floats(0.1, 20))
def test_per_cent_of_chlorine_survives_the_way_through_grams_per_litre(percent: float) -> None:
    g_per_l = chlorine.available_chlorine_g_per_l(percent, "avail_cl_ww")
    assert chlorine.available_chlorine_percent(g_per_l) == pytest.approx(percent)


@pytest.mark.parametrize(
    ("filled", "celsius", "left", "days"),
    [
        # The closed form, worked once for the table of half-lives.
        (G_525, 15, 0.5, 3778),
        (G_525, 25, 0.9, 98),
        (G_6, 20, 0.5, 1438),
        (G_825, 20, 0.5, 789),
        (G_825, 25, 0.8, 96),
        (G_825, 35, 0.5, 98),
        (125, 30, 0.5, 94),
        (G_6, 20, 1, 0),
    ],
)
def test_days_until_a_share_is_left(filled: float, celsius: float, left: float, days: float) -> None:
    assert chlorine.days_until_left(left, filled, celsius) == pytest.approx(days, rel=6e-3)


@given(st.floats(25, 160), st.floats(10, 60), st.floats(0.5, 1))
def test_days_until_a_share_is_left_leave_that_share(filled: float, celsius: float, left: float) -> None:
    days = chlorine.days_until_left(left, filled, celsius)
    rounded_down = days * (1 - 1e-12)  # at half the strength the model ends
    assert chlorine.hypochlorite_remaining(filled, [(rounded_down, celsius)]) == pytest.approx(left)


def test_a_bottle_is_best_used_until_four_fifths_are_left_or_a_year() -> None:
    assert chlorine.keeps_days(G_825, 25) == pytest.approx(96, rel=6e-3)
    assert chlorine.keeps_days(G_825, 25) == chlorine.days_until_left(0.8, G_825, 25)
    assert chlorine.keeps_days(G_525, 15) == 365


def test_the_days_too_have_their_validity() -> None:
    for left in (0.499, 1.001):
        with pytest.raises(OutOfDomain, match="share_left"):
            chlorine.days_until_left(left, 60, 20)
    for filled, celsius in ((24.9, 20), (160.1, 20), (60, 9.9), (60, 60.1)):
        with pytest.raises(OutsideValidity):
            chlorine.days_until_left(0.8, filled, celsius)
    assert chlorine.days_until_left(0.8, 25, 10) > chlorine.days_until_left(0.8, 160, 60) > 0


def test_what_is_lost_is_chlorate() -> None:
    # (87.75 - 59.80) / 70.906 / 3.24 x 83.449 = 10.15 g/L, about 0.5 g/L in one part to nineteen.
    assert chlorine.chlorate_g_per_l(87.75, 59.80 / 87.75) == pytest.approx(10.15, rel=1e-3)
    assert chlorine.chlorate_g_per_l(87.75, 1) == 0
    for filled, left in ((0, 0.5), (60, -0.1), (60, 1.1)):
        with pytest.raises(OutOfDomain):
            chlorine.chlorate_g_per_l(filled, left)


def test_a_strip_in_one_millilitre_to_the_litre_reads_the_strength() -> None:
    assert chlorine.strip_strength_g_per_l(75) == pytest.approx(75.075)
    assert chlorine.strip_strength_g_per_l(50, bleach_ml=2, water_l=0.998) == pytest.approx(25)
    assert chlorine.strip_strength_g_per_l(0) == 0
    for reading, bleach, water in ((-1, 1, 1), (1, 0, 1), (1, 1, 0)):
        with pytest.raises(OutOfDomain):
            chlorine.strip_strength_g_per_l(reading, bleach, water)
