"""How warm a batch stood, by the log of its shelf and without one."""

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.chlorine import hypochlorite_remaining
from service.stores.rules_shelf import differs, reading_reasons, segments

START = date(2026, 3, 2)
NOW = datetime(2026, 3, 20, 12, tzinfo=UTC)


def on(days: int) -> date:
    return START + timedelta(days=days)


def test_without_a_log_the_whole_time_counts_at_the_setting() -> None:
    assert segments({}, START, on(30), 22.0) == [(30.0, 22.0)]
    assert segments({on(40): [30.0]}, START, START, 22.0) == [(0.0, 22.0)]


def test_the_readings_of_a_day_count_in_equal_parts() -> None:
    log = {START: [18.0, 20.0, 30.0, 20.0], on(1): [25.0]}
    quarters = [(0.25, 18.0), (0.25, 20.0), (0.25, 30.0), (0.25, 20.0)]
    assert segments(log, START, on(2), 20.0) == [*quarters, (1.0, 25.0)]


def test_a_day_nobody_read_is_as_warm_as_the_setting_or_the_day_read_before() -> None:
    log = {on(1): [28.0, 26.0], on(3): [15.0]}
    found = segments(log, START, on(5), 20.0)
    assert found == [(1.0, 20.0), (0.5, 28.0), (0.5, 26.0), (1.0, 28.0), (1.0, 15.0), (1.0, 20.0)]


def test_what_is_read_later_does_not_change_an_earlier_day() -> None:
    log = {on(1): [28.0]}
    assert segments({**log, on(3): [40.0]}, START, on(3), 20.0) == segments(log, START, on(3), 20.0)


def test_colder_than_the_model_knows_counts_as_its_coldest() -> None:
    assert segments({START: [4.0]}, START, on(1), 20.0) == [(1.0, 10.0)]


# The rate of ageing rises with temperature more than in proportion (Arrhenius), so a day of 15 and 35 °C ages
# more than one of 25 °C: the inequality of Jensen, whatever the coefficients of the rate are.
def test_swings_age_more_than_their_mean() -> None:
    days = 60
    swinging = segments({on(n): [15.0, 35.0] for n in range(days)}, START, on(days), 20.0)
    steady = segments({on(n): [25.0] for n in range(days)}, START, on(days), 20.0)
    assert hypochlorite_remaining(87.75, swinging) < hypochlorite_remaining(87.75, steady)


@given(
    st.dictionaries(st.integers(-5, 40).map(on), st.lists(st.floats(-30, 60), min_size=1, max_size=5)),
    st.integers(0, 30),
    st.floats(10, 60),
)
def test_every_day_counts_once(log: dict[date, list[float]], days: int, setting: float) -> None:
    found = segments(log, START, on(days), setting)
    assert sum(length for length, _ in found) == pytest.approx(days)
    assert all(10 <= celsius <= 60 for _, celsius in found)


def test_a_reading_that_cannot_be_is_pointed_at() -> None:
    hour = timedelta(hours=1)
    read = [(NOW, 61.0), (NOW, 20.0), (NOW + hour, 20.0), (NOW - 48 * hour, 20.0), (NOW - 49 * hour, -31.0)]
    found = {(reason.code, reason.pointer) for reason in reading_reasons(read, NOW, None, 60)}
    assert found == {
        ("implausible", "#/readings/0/value"),
        ("contradiction", "#/readings/1/value"),
        ("time-in-future", "#/readings/2/at"),
        ("late-reason-missing", "#/late_reason"),
        ("implausible", "#/readings/4/value"),
    }
    assert [r.code for r in reading_reasons(read, NOW, None, 60)].count("late-reason-missing") == 1


def test_the_step_of_a_thermometer_is_no_contradiction() -> None:
    assert reading_reasons([(NOW, 20.0), (NOW, 20.04), (NOW - timedelta(days=9), 60.0)], NOW, "x", 60) == []
    assert (differs(20.0, 20.1), differs(20.0, 20.04)) == (True, False)


def test_a_cold_store_counts_as_the_coldest_known_whether_anybody_read_it_or_not() -> None:
    assert segments({}, START, on(30), 4.0) == [(30.0, 10.0)]
    assert segments({START: [4.0]}, START, on(2), 4.0) == [(1.0, 10.0), (1.0, 10.0)]
