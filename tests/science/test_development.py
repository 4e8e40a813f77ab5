"""Hatching dates against worked examples (constant rates by hand: days = K x F / (T - T0))."""

import math

import pytest

from service.science.development import (
    PLANARIAN_VISIBILITY,
    Development,
    Reading,
    degree_days,
    hatched_out_at,
    latest_reached_at,
    reached_at,
    single_sine_degree_days,
    visible_at,
)
from service.science.domain import OutOfDomain
from tests.science.logs import (
    NEEDED,
    PHYSID,
    PLANARIAN,
    POND,
    RAMSHORN,
    START,
    day,
    days_after,
    hourly,
    steady,
    with_week_at,
)


@pytest.mark.parametrize(("factor", "days"), [(1.0, 14.545), (1.5, 21.818), (1.7, 24.727)])
def test_at_a_constant_21_degrees_pond_snails_hatch_out_in_three_weeks(factor: float, days: float) -> None:
    reached = reached_at(steady(40), START, factor * 176, POND)
    assert days_after(reached) == pytest.approx(days, abs=1e-3)


@pytest.mark.parametrize(
    ("celsius", "days"),
    [
        (8.0, 28.818),  # below the threshold: the clock stands for a week
        (12.0, 27.083),  # 3 degree-days a day
    ],
)
def test_a_cold_week_holds_hatching_up(celsius: float, days: float) -> None:
    assert days_after(reached_at(with_week_at(celsius), START, NEEDED, POND)) == pytest.approx(days, abs=1e-3)


# Our own table: days to the median, and to 1.5 and 1.7 medians; planarians level off at 24 °C.
CONSTANT = {
    15: ["22.7 34.0 38.5", "31.5 47.2 53.5", "29.3 44.0 49.9", "24.5 36.7 41.6"],
    18: ["15.1 22.7 25.7", "18.0 27.0 30.6", "19.6 29.3 33.2", "19.9 29.8 33.8"],
    21.1: ["11.2 16.9 19.1", "12.5 18.7 21.2", "14.5 21.8 24.7", "16.6 25.0 28.3"],
    24: ["9.1 13.6 15.4", "9.7 14.5 16.5", "11.7 17.6 19.9", "14.5 21.7 24.6"],
    26: ["8.0 12.0 13.6", "8.4 12.6 14.3", "10.4 15.5 17.6", "14.5 21.7 24.6"],
}


@pytest.mark.parametrize("number", range(4))
@pytest.mark.parametrize("celsius", CONSTANT)
def test_days_in_water_of_a_constant_temperature(celsius: float, number: int) -> None:
    pest = (PHYSID, RAMSHORN, POND, PLANARIAN)[number]
    found = [
        days_after(reached_at([], START, factor * pest.thermal_constant_dd, pest, forecast_c=celsius))
        for factor in (1.0, 1.5, 1.7)
    ]
    assert found == pytest.approx([float(days) for days in CONSTANT[celsius][number].split()], abs=0.06)


def test_a_cool_day_and_a_half_costs_hours() -> None:
    log = hourly(40, lambda on: 18.5 if 5 <= on < 6.5 else 21.1)
    assert days_after(reached_at(log, START, NEEDED, POND)) == pytest.approx(22.140, abs=1e-3)


@pytest.mark.parametrize(("low", "high", "days"), [(17, 24, 22.957), (4, 14, 165.88)])
def test_days_known_by_their_extremes_add_up(low: float, high: float, days: float) -> None:
    assert NEEDED / single_sine_degree_days(low, high, 9) == pytest.approx(days, abs=5e-3)


def test_a_gap_of_36_hours_is_a_day_and_a_half_lost() -> None:
    log = [found for found in steady(40) if not day(5) < found.at < day(6.5)]
    assert days_after(reached_at(log, START, NEEDED, POND)) == pytest.approx(23.318, abs=1e-3)


@pytest.mark.parametrize("celsius", [28.0, 30.0, 32.0])
def test_heating_beyond_the_optimum_saves_no_time(celsius: float) -> None:
    reached = reached_at(steady(40, celsius), START, NEEDED, POND)
    assert days_after(reached) == pytest.approx(13.895, abs=1e-3)


def test_two_days_too_hot_are_two_days_lost() -> None:
    log = hourly(40, lambda on: 35.0 if on < 2 else 21.1)
    assert days_after(reached_at(log, START, NEEDED, POND)) == pytest.approx(23.818, abs=1e-3)


@pytest.mark.parametrize(("log", "days"), [(steady(40), 24.974), (with_week_at(8.0), 29.775)])
def test_planarian_cocoons_go_on_in_the_cold(log: list[Reading], days: float) -> None:
    reached = reached_at(log, START, 1.5 * PLANARIAN.thermal_constant_dd, PLANARIAN)
    assert days_after(reached) == pytest.approx(days, abs=1e-3)


@pytest.mark.parametrize(
    ("celsius", "days"),
    [(12.0, 100.80), (15.0, 45.82), (21.1, 22.36), (26.0, 17.14)],
)
def test_the_latest_variant_is_the_high_threshold_in_the_cold_and_the_low_one_in_the_warm(
    celsius: float, days: float
) -> None:
    reached = latest_reached_at(steady(110, celsius), START, 1.5, POND)
    assert days_after(reached) == pytest.approx(days, abs=6e-3)


def test_a_variant_that_never_gets_there_leaves_no_date() -> None:
    # 9.3 °C is above the default threshold of 9 °C and below the high one of 9.5 °C.
    assert reached_at([], START, 10, POND, forecast_c=9.3) is not None
    assert latest_reached_at([], START, 10 / 176, POND, forecast_c=9.3) is None


def test_of_several_pests_the_slowest_decides() -> None:
    log = steady(60)
    each = [latest_reached_at(log, START, 1.5, pest) for pest in (PHYSID, RAMSHORN, POND)]
    assert hatched_out_at(log, START, 1.5, (PHYSID, RAMSHORN, POND)) == max(
        moment for moment in each if moment is not None
    )
    assert hatched_out_at(steady(5), START, 1.5, (PHYSID, POND)) is None
    with pytest.raises(OutOfDomain):
        hatched_out_at(log, START, 1.5, ())


def test_after_the_log_a_forecast_goes_on() -> None:
    reached = reached_at(steady(10), START, NEEDED, POND, forecast_c=21.1)
    assert days_after(reached) == pytest.approx(21.818, abs=1e-3)
    warmer = reached_at(steady(10), START, NEEDED, POND, forecast_c=24.0)
    # 10 days at 12.1 a day, the rest at 15 a day.
    assert days_after(warmer) == pytest.approx(10 + (264 - 10 * 12.1) / 15)


def test_a_past_that_nobody_measured_is_not_forecast() -> None:
    # Silent since day 10, today is day 15: the forecast starts today.
    reached = reached_at(steady(10), START, NEEDED, POND, forecast_c=21.1, forecast_from=day(15))
    assert days_after(reached) == pytest.approx(21.818 + 5, abs=1e-3)


def test_without_a_log_the_forecast_starts_with_the_clock() -> None:
    assert days_after(reached_at([], START, 121, POND, forecast_c=21.1)) == pytest.approx(10)
    old = [Reading(day(-9), 21.1)]
    assert days_after(reached_at(old, START, 121, POND, forecast_c=21.1)) == pytest.approx(10)


def test_what_is_not_reached_by_the_horizon_has_no_date() -> None:
    assert reached_at(steady(10), START, NEEDED, POND) is None
    assert reached_at([], START, NEEDED, POND, forecast_c=8.0) is None
    assert reached_at([], START, NEEDED, POND, forecast_c=21.1, horizon_days=21.8) is None
    assert reached_at([], START, 1, POND, forecast_c=21.1, forecast_from=day(400)) is None


def test_nothing_needed_is_reached_at_once() -> None:
    assert reached_at([], START, 0, POND) == START


def test_a_sum_that_the_log_just_meets_is_met() -> None:
    assert reached_at(steady(30), START, degree_days(steady(30), START, day(30), POND), POND) == day(30)


def test_a_needed_sum_too_small_to_matter_is_reached_with_the_first_credit() -> None:
    # The water is too cold at first; its last-bit debt must not divide by nothing.
    assert reached_at(steady(2, 5.0), START, 1e-12, POND) == START


def test_on_a_warming_course_the_moment_solves_the_quadratic() -> None:
    # 9 to 15 °C in 6 h climbs 24 °C a day: after x days the sum is 12 x² degree-days.
    log = [Reading(START, 9.0), Reading(day(0.25), 15.0)]
    assert days_after(reached_at(log, START, 12 * 0.1**2, POND)) == pytest.approx(0.1, abs=1e-9)
    cooling = [Reading(START, 15.0), Reading(day(0.25), 9.0)]
    # Backwards the triangle is the same: 0.15 days before the end 12 x 0.15² are left.
    reached = reached_at(cooling, START, 12 * (0.25**2 - 0.15**2), POND)
    assert days_after(reached) == pytest.approx(0.1, abs=1e-9)


def test_figures_without_sense_are_refused() -> None:
    with pytest.raises(OutOfDomain):
        reached_at([], START, -1, POND)
    with pytest.raises(OutOfDomain):
        reached_at([], START, 1, POND, forecast_c=50)
    with pytest.raises(OutOfDomain):
        reached_at([], START, 1, POND, horizon_days=0)
    with pytest.raises(OutOfDomain):
        latest_reached_at([], START, 0, POND)
    with pytest.raises(OutOfDomain):
        visible_at([], START.replace(tzinfo=None), PLANARIAN_VISIBILITY)


def test_the_published_curve_of_a_flatworm_is_met_by_its_degree_days() -> None:
    # Dendrocoelum lacteum, published as 266 DD above 1.0 °C and as ln D = 6.12 - 1.17 ln T.
    worm = Development("dendrocoelum", 1.0, 266.0, 38.0, 8.0, None, 24.0, 30.0)
    for celsius in (6, 8, 10, 12, 14, 16):
        days = days_after(reached_at([], START, 266, worm, forecast_c=celsius))
        assert days == pytest.approx(math.exp(6.12 - 1.17 * math.log(celsius)), rel=0.06)
