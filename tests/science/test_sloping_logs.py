"""Credit along logs that slope, against numerical quadrature; and what every asker hands on.

Quadrature: scipy.integrate.quad of the rate at the interpolated temperature (numpy.interp), a reference of
its own that knows nothing of closed forms.
"""

import math
from collections.abc import Callable
from datetime import timedelta
from functools import partial
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad

from service.science.curve import curve
from service.science.development import (
    SNAIL_VISIBILITY,
    Reading,
    degree_days,
    hatched_out_at,
    latest_reached_at,
    reached_at,
    visible_at,
)
from service.science.thermal import rate
from tests.science.logs import POND, START, day, days_after, steady

# Every four hours, so that the gap rule draws straight lines: through threshold, optimum and back.
HOURS = np.arange(0, 240, 4)
CELSIUS = 18 + 12 * np.sin(HOURS / 17) + HOURS / 60
LOG = [Reading(START + timedelta(hours=int(h)), float(c)) for h, c in zip(HOURS, CELSIUS, strict=True)]
HALF = [(day(2.1), day(4.3)), (day(4.0), day(5.5))]  # two soaks that overlap


def by_quadrature(from_hour: float, to_hour: float, halved: tuple[float, float] = (0, 0)) -> float:
    def per_hour(hour: float) -> float:
        weight = 0.5 if halved[0] <= hour < halved[1] else 1.0
        return weight * rate(float(np.interp(hour, HOURS, CELSIUS)), POND) / 24

    edges = sorted({from_hour, to_hour, *halved, *map(float, HOURS)})
    inside = [edge for edge in edges if from_hour <= edge <= to_hour]
    return math.fsum(quad(per_hour, a, b, limit=200)[0] for a, b in pairwise(inside))


@pytest.mark.parametrize(("since", "until"), [(0, 230), (30, 90.5), (101.3, 222.2), (150, 151)])
def test_degree_days_of_a_sloping_log_are_the_area_under_its_rate(since: float, until: float) -> None:
    found = degree_days(LOG, day(since / 24), day(until / 24), POND)
    assert found == pytest.approx(by_quadrature(since, until), rel=1e-5)


def test_overlapping_soaks_count_half_once() -> None:
    found = degree_days(LOG, START, day(9), POND, half_credit=HALF)
    assert found == pytest.approx(by_quadrature(0, 216, (2.1 * 24, 5.5 * 24)), rel=1e-5)


def test_two_soaks_apart_count_half_each() -> None:
    apart = [(day(1), day(2)), (day(6), day(7))]
    lost = sum(degree_days(LOG, begins, ends, POND) / 2 for begins, ends in apart)
    whole = degree_days(LOG, START, day(9), POND)
    assert degree_days(LOG, START, day(9), POND, half_credit=apart) == pytest.approx(whole - lost)


@pytest.mark.parametrize("needed", [10.0, 33.3, 57.0])
def test_the_moment_reached_is_where_the_area_is_what_was_needed(needed: float) -> None:
    moment = reached_at(LOG, day(1.3), needed, POND)
    assert by_quadrature(1.3 * 24, days_after(moment) * 24) == pytest.approx(needed, rel=1e-5)


@pytest.mark.parametrize("hour", [1, 50.5, 101, 197.25])
def test_a_curve_is_the_same_area_at_every_moment(hour: float) -> None:
    found = curve(LOG, START, day(9.5), POND)
    assert found.at(day(hour / 24)) == pytest.approx(by_quadrature(0, hour), rel=1e-5)


ASKERS: tuple[Callable[..., Any], ...] = (
    partial(latest_reached_at, factor=1.5, development=POND),
    partial(hatched_out_at, factor=1.5, developments=[POND]),
    lambda readings, start, **given: visible_at(readings, start, SNAIL_VISIBILITY, **given),
)


@pytest.mark.parametrize("ask", ASKERS)
def test_half_credit_delays_hatching_and_sight_whoever_asks(ask: Callable[..., Any]) -> None:
    whole, halved = ask(steady(60), START), ask(steady(60), START, half_credit=[(day(1), day(9))])
    assert days_after(halved) == pytest.approx(days_after(whole) + 4)


@pytest.mark.parametrize("ask", ASKERS)
def test_a_forecast_starts_when_it_is_told_to_whoever_asks(ask: Callable[..., Any]) -> None:
    at_once, later = ask([], START, forecast_c=21.1), ask([], START, forecast_c=21.1, forecast_from=day(5))
    assert days_after(later) == pytest.approx(days_after(at_once) + 5)


@pytest.mark.parametrize("ask", ASKERS)
def test_nobody_looks_past_the_horizon_that_was_asked(ask: Callable[..., Any]) -> None:
    assert ask([], START, forecast_c=21.1, horizon_days=3) is None
