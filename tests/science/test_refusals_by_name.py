"""Moments, logs and lists that no formula can use are refused by the name of what was given."""

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest

from service.science import (
    amounts,
    chlorine,
    demand,
    development,
    errors,
    readings,
    sampling_arrays,
    thermal,
    unit_draw,
)
from service.science.domain import OutOfDomain
from tests.science.logs import PHYSID, PLANARIAN, START, day, steady

NO_ZONE = day(7).replace(tzinfo=None)
LOG = steady(3)
Call = Callable[[], object]

REFUSED: list[tuple[str, Call]] = [
    ("at", lambda: readings.Reading(NO_ZONE, 20)),
    ("celsius", lambda: readings.Reading(START, 90)),
    ("start", lambda: readings.coverage(LOG, NO_ZONE, day(3))),
    ("end", lambda: readings.coverage(LOG, START, NO_ZONE)),
    ("start", lambda: development.degree_days(LOG, NO_ZONE, day(3), PHYSID)),
    ("end", lambda: development.degree_days(LOG, START, NO_ZONE, PHYSID)),
    (
        "half_credit",
        lambda: development.degree_days(LOG, START, day(3), PHYSID, half_credit=[(NO_ZONE, day(2))]),
    ),
    (
        "half_credit",
        lambda: development.degree_days(LOG, START, day(3), PHYSID, half_credit=[(day(1), NO_ZONE)]),
    ),
    ("start", lambda: development.reached_at(LOG, NO_ZONE, 10, PHYSID)),
    ("needed_dd", lambda: development.reached_at(LOG, START, -1, PHYSID)),
    ("horizon_days", lambda: development.reached_at(LOG, START, 10, PHYSID, horizon_days=0)),
    ("forecast_c", lambda: development.reached_at(LOG, START, 1e4, PHYSID, forecast_c=90)),
    ("factor", lambda: development.latest_reached_at(LOG, START, 0, PHYSID)),
    ("hatched_at", lambda: development.visible_at(LOG, NO_ZONE, timedelta(days=7))),
    ("relative_errors", lambda: errors.combined_error(0.1, -0.1)),
    ("mean", lambda: demand.safety_stock(demand.DailyDemand(-1, 1), 5, 1.6)),
    ("deviation", lambda: demand.safety_stock(demand.DailyDemand(1, -1), 5, 1.6)),
    ("percent", lambda: chlorine.available_chlorine_g_per_l(21, "trade")),
    ("drop_ml", lambda: amounts.convert(amounts.Amount(Decimal(5), "[drp]"), "mL", drop_ml=Decimal(0))),
    ("infested", lambda: sampling_arrays.miss_probabilities([100], [1.5], [10], [0.8])),
    ("sample_sizes", lambda: sampling_arrays.miss_probabilities([100], [5], [1.5], [0.8])),
    ("lot", lambda: unit_draw.draw_units("", 1, "secret", 60, 5)),
    ("secret", lambda: unit_draw.draw_units("LOT-1", 1, "two\nlines", 60, 5)),
    ("minimum_c", lambda: thermal.single_sine_degree_days(21, 20, 9)),
    ("optimum_c", lambda: thermal.single_sine_degree_days(10, 20, 9, 8)),
]


@pytest.mark.parametrize(
    ("name", "call"), REFUSED, ids=[f"{n}-{name}" for n, (name, _) in enumerate(REFUSED)]
)
def test_it_is_named(name: str, call: Call) -> None:
    with pytest.raises(OutOfDomain) as refused:
        call()
    assert refused.value.parameter == name


def test_a_day_upside_down_is_told_apart_in_words() -> None:
    with pytest.raises(
        OutOfDomain, match=r"^The lowest temperature of the day must not be above the highest\.$"
    ):
        thermal.single_sine_degree_days(21, 20, 9)


def test_a_cut_below_the_threshold_is_told_with_both_temperatures() -> None:
    with pytest.raises(OutOfDomain, match=r"^optimum_c must not lie below the threshold of 9, not 8\.$"):
        thermal.single_sine_degree_days(10, 20, 9, 8)


def test_growth_of_its_own_needs_a_moment_with_an_offset_too() -> None:
    with pytest.raises(OutOfDomain) as refused:
        development.visible_at(LOG, NO_ZONE, PLANARIAN)
    assert refused.value.parameter == "start"
