"""The arrays against the plain functions, value by value, at every bend, and what they refuse."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science import arrays
from service.science.development import Reading, degree_days, reached_at
from service.science.domain import OutOfDomain
from service.science.reaching import NEVER_MIND_DD
from service.science.thermal import Development, rate, share_hatched
from tests.science.logs import PHYSID, PLANARIAN, POND, RAMSHORN, START, day, days_after, tenths

PESTS = st.sampled_from([PHYSID, RAMSHORN, POND, PLANARIAN])
BENDS = [8.999, 9.0, 9.001, 27.999, 28.0, 28.001, 33.999, 34.0, 34.001]


LOG = st.lists(tenths(-1, 45), min_size=1, max_size=60)


@pytest.mark.parametrize(
    ("celsius", "per_day"),
    list(zip(BENDS, [0, 0, 0.001, 18.999, 19, 19, 19, 19, 0], strict=True)),
)
def test_the_rate_at_every_bend(celsius: float, per_day: float) -> None:
    assert arrays.rates([celsius], POND)[0] == pytest.approx(per_day, abs=1e-9)


@given(st.lists(st.one_of(tenths(-1, 45), st.floats(-1, 45)), min_size=1, max_size=50), PESTS)
def test_rates_are_those_of_the_plain_function(celsius: list[float], pest: Development) -> None:
    bends = [pest.lower_threshold_c, pest.optimum_c, pest.maximum_c, -1.0, 45.0]
    together = [*celsius, *bends]
    assert arrays.rates(together, pest).tolist() == [rate(value, pest) for value in together]


def test_any_shape_will_do() -> None:
    single = arrays.rates(21.0, POND)
    assert (single.shape, float(single)) == ((), 12.0)
    assert arrays.rates([], POND).shape == (0,)
    assert arrays.rates([[21, 22, 23], [8, 30, 40]], POND).tolist() == [[12, 13, 14], [0, 19, 0]]


def test_what_is_given_is_not_changed() -> None:
    celsius = np.array([5.0, 21.0, 40.0])
    arrays.rates(celsius, POND)
    arrays.hourly_degree_days(celsius, POND)
    arrays.sine_degree_days(celsius, celsius, 9.0)
    assert celsius.tolist() == [5.0, 21.0, 40.0]


def test_each_tub_adds_up_its_own_hours() -> None:
    found = arrays.hourly_degree_days([[21.0] * 48, [8.0] * 24 + [15.0] * 24], POND)
    assert found.shape == (2, 48)
    assert found[0, [0, 23, 47]] == pytest.approx([0.5, 12.0, 24.0])
    assert found[1, [0, 23, 24, 47]] == pytest.approx([0.0, 0.0, 0.25, 6.0])


@given(LOG, PESTS)
def test_hourly_sums_are_those_of_a_log_with_hourly_readings(celsius: list[float], pest: Development) -> None:
    log = as_log(celsius)
    found = arrays.hourly_degree_days(celsius, pest)
    plain = [degree_days(log, START, day((hour + 1) / 24), pest) for hour in range(len(celsius))]
    assert found == pytest.approx(plain, abs=1e-9)


def as_log(celsius: list[float]) -> list[Reading]:
    """A reading every hour; the last one only closes the last hour."""
    return [Reading(day(hour / 24), value) for hour, value in enumerate([*celsius, celsius[-1]])]


STEADY = arrays.hourly_degree_days([21.0] * 48, POND)  # 0.5 an hour
# Six hours at 0.5, six below the threshold, six at 0.5.
PAUSED = arrays.hourly_degree_days([21.0] * 6 + [8.0] * 6 + [21.0] * 6, POND)


@pytest.mark.parametrize(
    ("starts_h", "needed", "hours"),
    [
        (0, 0.0, 0.0),
        (0, 0.25, 0.5),  # inside the first hour
        (0, 0.5, 1.0),  # at its end
        (0, 0.6, 1.2),
        (0.5, 0.25, 0.5),
        (0.75, 0.25, 0.5),  # over the end of an hour
        (10, 1.0, 2.0),
        (47, 0.5, 1.0),
        (0, 24.0, 48.0),  # the whole log
        (48, 0.0, 0.0),
        (0, 24.001, math.nan),
        (47.5, 0.3, math.nan),
        (48, 0.001, math.nan),
    ],
)
def test_hours_in_steady_water(starts_h: float, needed: float, hours: float) -> None:
    found = arrays.hours_until(STEADY, [starts_h], [needed])
    assert found == pytest.approx([hours], abs=1e-9, nan_ok=True)


@pytest.mark.parametrize(
    ("starts_h", "needed", "hours"),
    [
        (0, 3.0, 6.0),  # met before the pause, not put off until after it
        (0, 3.1, 12.2),
        (6, 0.0, 0.0),
        (8, 0.0, 0.0),  # nothing is needed: at once, although the sum was met before
        (8, 0.5, 5.0),
        (11.5, 0.25, 1.0),
        (12, 0.25, 0.5),
        (0, 6.0, 18.0),
        (0, 6.01, math.nan),
    ],
)
def test_hours_over_a_pause_in_the_cold(starts_h: float, needed: float, hours: float) -> None:
    found = arrays.hours_until(PAUSED, [starts_h], [needed])
    assert found == pytest.approx([hours], abs=1e-9, nan_ok=True)


def test_hours_for_all_lots_of_a_tub_keep_their_shape() -> None:
    starts, needed = np.array([[0.0, 1.0], [2.0, 3.0]]), np.array([[0.5, 1.0], [1.5, 99.0]])
    found = arrays.hours_until(STEADY, starts, needed)
    assert found.shape == (2, 2)
    assert found.ravel() == pytest.approx([1.0, 2.0, 3.0, math.nan], nan_ok=True)
    assert float(arrays.hours_until(STEADY, 1.0, 0.5)) == pytest.approx(1.0)
    assert arrays.hours_until(STEADY, [], []).shape == (0,)


def test_an_empty_log_has_reached_nothing_but_nothing() -> None:
    assert arrays.hours_until([], [0.0, 0.0], [0.0, 1.0]) == pytest.approx([0.0, math.nan], nan_ok=True)


def test_a_sum_that_the_log_just_meets_is_met() -> None:
    # 720 hours of 12.1 / 24 do not make 363 in floating point.
    month = arrays.hourly_degree_days([21.1] * 720, POND)
    needed = float(month[-1]) + np.array([0.5, 2.0]) * NEVER_MIND_DD
    assert arrays.hours_until(month, [0.0, 0.0], needed) == pytest.approx([720.0, math.nan], nan_ok=True)


def test_what_rounding_keeps_from_a_sum_does_not_put_it_off_beyond_a_pause() -> None:
    cold = arrays.hourly_degree_days([21.1] * 24 + [8.0] * 48 + [21.1] * 24, POND)
    assert arrays.hours_until(cold, [0.0], [12.1 + 1e-12])[0] == pytest.approx(24.0)
    assert arrays.hours_until(cold, [0.0], [12.1 + 1e-6])[0] == pytest.approx(72.0, abs=1e-4)


def test_a_need_too_small_to_matter_is_met_with_the_first_hour_of_credit() -> None:
    # Forgiven is the sum, not the time: the hour is not run past its end.
    barely = [9.0 + 2.4e-9, 8.0, 8.0]  # 1e-10 degree-days in the first hour
    cumulative = arrays.hourly_degree_days(barely, POND)
    assert arrays.hours_until(cumulative, [0.0], [5e-10]) == pytest.approx([1.0])
    plain = reached_at(as_log(barely), START, 5e-10, POND)
    assert 24 * days_after(plain) == pytest.approx(1.0)


@given(LOG, PESTS, st.floats(0, 1), st.integers(0, 4000))
def test_hours_are_those_of_the_plain_function(
    celsius: list[float], pest: Development, part: float, hundredths: int
) -> None:
    starts_h, needed = part * len(celsius), hundredths / 100
    cumulative = arrays.hourly_degree_days(celsius, pest)
    found = float(arrays.hours_until(cumulative, [starts_h], [needed])[0])
    start = day(starts_h / 24)
    plain = reached_at(as_log(celsius), start, needed, pest)
    if plain is None:
        assert math.isnan(found)
    else:
        assert found == pytest.approx(24 * days_after(plain, start), abs=1e-5)


@pytest.mark.parametrize("celsius", [-1.0, 45.0])
def test_the_limits_of_a_probe_are_temperatures(celsius: float) -> None:
    assert arrays.rates([celsius], POND).tolist() == [0.0]
    assert arrays.sine_degree_days([celsius], [celsius], 50.0).tolist() == [0.0]


@given(st.lists(st.floats(-50, 900), min_size=1, max_size=20), PESTS, st.floats(0.01, 1))
def test_shares_are_those_of_the_plain_function(credit: list[float], pest: Development, sigma: float) -> None:
    found = arrays.shares_hatched([*credit, 0.0], pest.thermal_constant_dd, sigma)
    plain = [share_hatched(value, pest, sigma) for value in [*credit, 0.0]]
    assert found == pytest.approx(plain, abs=1e-12)


def test_shares_broadcast_and_take_the_usual_spread() -> None:
    found = arrays.shares_hatched([[88.0], [176.0], [264.0]], [88.0, 176.0])
    assert found.shape == (3, 2)
    assert found[0, 0] == found[1, 1] == 0.5
    assert found[2, 1] == pytest.approx(share_hatched(264.0, POND), abs=1e-12)
    assert arrays.shares_hatched([264.0], 176.0, 0.186) == pytest.approx(found[2, 1:])
    assert float(arrays.shares_hatched(176.0, 176.0)) == 0.5


NAN, INF = math.nan, math.inf
REFUSED: list[tuple[str, Any]] = [
    *(("celsius", lambda value=value: arrays.rates([21, value], POND)) for value in (-1.01, 45.01, NAN, INF)),
    ("celsius", lambda: arrays.hourly_degree_days([[21.0], [NAN]], POND)),
    ("minimum_c", lambda: arrays.sine_degree_days([NAN], [20], 9)),
    ("minimum_c", lambda: arrays.sine_degree_days([-1.01], [20], 9)),
    ("maximum_c", lambda: arrays.sine_degree_days([10], [NAN], 9)),
    ("maximum_c", lambda: arrays.sine_degree_days([10], [45.01], 9)),
    ("minimum_c", lambda: arrays.sine_degree_days([10, 20.01], [20, 20], 9)),
    ("start_hours", lambda: arrays.hours_until(STEADY, [0, -0.01], [1, 1])),
    ("start_hours", lambda: arrays.hours_until(STEADY, [48.01], [1])),
    ("start_hours", lambda: arrays.hours_until(STEADY, [NAN], [1])),
    ("start_hours", lambda: arrays.hours_until([], [0.01], [1])),
    ("needed_dd", lambda: arrays.hours_until(STEADY, [0, 0], [1, -0.01])),
    ("needed_dd", lambda: arrays.hours_until(STEADY, [0], [NAN])),
    ("needed_dd", lambda: arrays.hours_until(STEADY, [0], [INF])),
    ("cumulative_dd", lambda: arrays.hours_until([1.0, 0.9], [0], [1])),
    ("cumulative_dd", lambda: arrays.hours_until([-0.1, 0.9], [0], [1])),
    ("cumulative_dd", lambda: arrays.hours_until([1.0, NAN], [0], [1])),
    ("cumulative_dd", lambda: arrays.hours_until([1.0, INF], [0], [1])),
    ("sigma", lambda: arrays.shares_hatched([1.0], 176.0, 0.0)),
    ("sigma", lambda: arrays.shares_hatched([1.0], 176.0, NAN)),
    *(
        ("median_dd", lambda value=value: arrays.shares_hatched([1.0, 2.0], [176.0, value]))
        for value in (0.0, -1.0, NAN, INF)
    ),
    ("degree_days", lambda: arrays.shares_hatched([1.0, NAN], 176.0)),
]


@pytest.mark.parametrize(("parameter", "refused"), REFUSED)
def test_figures_without_sense_are_refused_by_name(parameter: str, refused: Any) -> None:
    with pytest.raises(OutOfDomain) as problem:
        refused()
    assert problem.value.parameter == parameter


def test_the_refusal_of_a_start_names_the_hours_of_the_log() -> None:
    with pytest.raises(OutOfDomain, match="between 0 and 48"):
        arrays.hours_until(STEADY, [49], [1])
