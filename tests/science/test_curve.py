"""The curve of credit along a log: what it says before, inside, between and after what the log speaks for."""

from datetime import datetime, timedelta, timezone
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.curve import Curve, curve
from service.science.development import Reading, degree_days, reached_at
from service.science.domain import OutOfDomain
from service.science.reaching import NEVER_MIND_DD
from tests.science.logs import POND, START, day, days_after, hourly, steady

WARMING = [Reading(START, 9.0), Reading(day(0.25), 15.0)]  # 24 °C a day: after x days 12 x² degree-days
# A day of readings, two days of silence, a day of readings.
SILENT = [found for found in steady(4) if not day(1) < found.at < day(3)]


def of(readings: list[Reading], until: float = 40, **more: Any) -> Curve:
    return curve(readings, START, day(until), POND, **more)


def after_days(found: Curve, needed: float) -> float:
    return days_after(found.reached_at(needed))


@pytest.mark.parametrize("number", [-400.0, -1.0, 0.0])
def test_until_the_start_nothing_has_gathered(number: float) -> None:
    assert of(steady(2)).at(day(number)) == 0.0


def test_before_the_first_reading_nothing_has_gathered() -> None:
    late = [found for found in steady(4) if found.at >= day(2)]
    assert of(late).at(day(1)) == 0.0
    assert of(late).at(day(2)) == 0.0
    assert of(late).at(day(3)) == pytest.approx(12.1)


def test_what_lies_before_the_start_does_not_count() -> None:
    found = curve(steady(4), day(1.01), day(40), POND)
    assert found.at(day(1)) == 0.0
    assert found.at(day(2.01)) == pytest.approx(12.1)


@pytest.mark.parametrize("number", [0.01, 0.5, 1 / 24, 1.03, 2.0])
def test_inside_steady_water_it_runs_straight(number: float) -> None:
    assert of(steady(2)).at(day(number)) == pytest.approx(12.1 * number, abs=1e-9)


@pytest.mark.parametrize("number", [0.0, 0.05, 0.1, 0.2, 0.25])
def test_inside_a_warming_course_it_bends(number: float) -> None:
    assert of(WARMING).at(day(number)) == pytest.approx(12 * number**2, abs=1e-9)


@pytest.mark.parametrize("number", [0.05, 0.1, 0.2])
def test_inside_a_cooling_course_it_bends_the_other_way(number: float) -> None:
    cooling = [Reading(START, 15.0), Reading(day(0.25), 9.0)]
    assert of(cooling).at(day(number)) == pytest.approx(12 * (0.25**2 - (0.25 - number) ** 2), abs=1e-9)


@pytest.mark.parametrize(
    ("number", "credit"), [(0.99, 0.99), (1, 1), (1.001, 1), (2, 1), (2.999, 1), (3, 1), (3.5, 1.5), (4, 2)]
)
def test_it_is_level_where_the_log_is_silent(number: float, credit: float) -> None:
    assert of(SILENT).at(day(number)) == pytest.approx(12.1 * credit)


def test_it_stops_rising_with_the_very_second_at_which_the_log_falls_silent() -> None:
    assert of(SILENT).at(day(1) + timedelta(seconds=1)) == of(SILENT).at(day(1))


@pytest.mark.parametrize("number", [4.0, 4.5, 39.0, 400.0])
def test_after_the_log_it_stays_level(number: float) -> None:
    assert of(SILENT).at(day(number)) == pytest.approx(24.2)


def test_beyond_its_end_nothing_is_credited() -> None:
    found = of(steady(10), until=5)
    assert found.at(day(4.9)) == pytest.approx(12.1 * 4.9)
    assert found.at(day(7)) == pytest.approx(12.1 * 5)
    assert found.reached_at(12.1 * 5 + 0.01) is None


def test_an_end_in_the_middle_of_an_hour_cuts_the_hour() -> None:
    assert of(steady(10), until=5.02).at(day(9)) == pytest.approx(12.1 * 5.02)


def test_an_end_before_the_start_leaves_nothing() -> None:
    backwards = curve(steady(4), day(2), day(1), POND)
    assert backwards.at(day(3)) == 0.0
    assert backwards.reached_at(0.1) is None


def test_without_readings_it_is_flat() -> None:
    assert of([]).at(day(10)) == 0.0
    assert of([]).reached_at(0.0) == START
    assert of([]).reached_at(0.1) is None


@pytest.mark.parametrize("number", [0.01, 0.5, 1.0, 1.03, 2.0])
def test_it_says_when_steady_water_has_given_so_much(number: float) -> None:
    assert after_days(of(steady(2)), 12.1 * number) == pytest.approx(number, abs=1e-9)


@pytest.mark.parametrize("number", [0.05, 0.1, 0.2, 0.25])
def test_it_says_when_a_warming_course_has_given_so_much(number: float) -> None:
    assert after_days(of(WARMING), 12 * number**2) == pytest.approx(number, abs=1e-9)


def test_nothing_is_reached_at_the_start() -> None:
    assert of(steady(2)).reached_at(0.0) == START
    assert of([found for found in steady(4) if found.at >= day(2)]).reached_at(0.0) == START


def test_a_sum_met_before_a_silence_is_reached_before_it_and_more_only_after() -> None:
    found = of(SILENT)
    assert after_days(found, 12.1) == pytest.approx(1.0, abs=1e-6)
    assert after_days(found, 12.1 + 1e-6) == pytest.approx(3.0, abs=1e-6)
    assert after_days(found, 18.15) == pytest.approx(3.5)
    assert after_days(found, 24.2) == pytest.approx(4.0)
    assert found.reached_at(24.21) is None


def test_a_sum_met_before_a_cold_spell_is_not_put_off_until_it_is_warm() -> None:
    # The hours below the threshold are stretches of their own, worth nothing.
    log = hourly(5, lambda on: 8.0 if 1 <= on < 3 else 21.1)
    assert after_days(of(log), 12.1) == pytest.approx(1.0, abs=1e-6)
    assert after_days(of(log), 12.2) == pytest.approx(3 + 0.1 / 12.1)


@pytest.mark.parametrize("days", [1, 7, 30])
def test_a_sum_that_the_log_just_meets_is_met(days: int) -> None:
    # 24 hours of 12.1 / 24 make a little less than 12.1 in floating point; `reached_at` forgives it too.
    assert of(steady(days)).reached_at(12.1 * days) == day(days)
    assert reached_at(steady(days), START, 12.1 * days, POND) == day(days)


def test_more_than_a_rounding_error_is_not_forgiven() -> None:
    found = of(steady(1))
    assert found.reached_at(found.at(day(1)) + NEVER_MIND_DD / 2) == day(1)
    assert found.reached_at(found.at(day(1)) + NEVER_MIND_DD * 2) is None


def test_in_a_soak_it_rises_half_as_fast() -> None:
    found = of(steady(10), half_credit=[(day(1), day(5))])
    assert found.at(day(1)) == pytest.approx(12.1)
    assert found.at(day(3)) == pytest.approx(2 * 12.1)
    assert found.at(day(5)) == pytest.approx(3 * 12.1)
    assert found.at(day(10)) == pytest.approx(8 * 12.1)
    assert after_days(found, 2 * 12.1) == pytest.approx(3.0)
    assert after_days(found, 3 * 12.1) == pytest.approx(5.0)
    assert after_days(found, 4 * 12.1) == pytest.approx(6.0)


def test_a_moment_is_the_same_in_every_time_zone() -> None:
    elsewhere = day(1).astimezone(timezone(timedelta(hours=9)))
    assert of(steady(2)).at(elsewhere) == pytest.approx(12.1)


NAIVE = datetime(2026, 3, 2, 9, 30)  # noqa: DTZ001  # what is refused

REFUSED: list[tuple[str, Any]] = [
    ("moment", lambda: of(steady(1)).at(NAIVE)),
    ("start", lambda: curve([], NAIVE, START, POND)),
    ("end", lambda: curve([], START, NAIVE, POND)),
    ("degree_days", lambda: of(steady(1)).reached_at(-0.001)),
    ("degree_days", lambda: of(steady(1)).reached_at(float("nan"))),
    ("degree_days", lambda: of(steady(1)).reached_at(float("inf"))),
    ("half_credit", lambda: of([], half_credit=[(day(1), START)])),
]


@pytest.mark.parametrize(("parameter", "refused"), REFUSED)
def test_what_has_no_sense_is_refused_by_name(parameter: str, refused: Any) -> None:
    with pytest.raises(OutOfDomain) as problem:
        refused()
    assert problem.value.parameter == parameter


STEPS = st.lists(st.tuples(st.floats(0.1, 40), st.floats(0, 40)), min_size=1, max_size=20)
DAYS = st.floats(-2, 40)


def as_log(steps: list[tuple[float, float]]) -> list[Reading]:
    """Readings after uneven hours."""
    hours, log = 0.0, []
    for after, celsius in steps:
        log.append(Reading(day(hours / 24), celsius))
        hours += after
    return log


@given(STEPS, DAYS, DAYS)
def test_it_never_falls(steps: list[tuple[float, float]], one: float, other: float) -> None:
    found = of(as_log(steps))
    earlier, later = sorted((one, other))
    assert 0 <= found.at(day(earlier)) <= found.at(day(later)) + 1e-9


@given(STEPS, st.floats(0, 20), st.floats(0, 20))
def test_between_two_moments_it_rises_by_their_degree_days(
    steps: list[tuple[float, float]], first: float, second: float
) -> None:
    log = as_log(steps)
    rise = of(log).at(day(first + second)) - of(log).at(day(first))
    assert rise == pytest.approx(degree_days(log, day(first), day(first + second), POND), abs=1e-6)


@given(STEPS, st.floats(1e-6, 60))
def test_the_moment_reached_is_the_one_of_the_plain_sum(
    steps: list[tuple[float, float]], needed: float
) -> None:
    log = as_log(steps)
    found = of(log)
    reached, plain = found.reached_at(needed), reached_at(log, START, needed, POND)
    if reached is None or plain is None:
        assert reached is plain
        assert found.at(day(400)) < needed
    else:
        assert reached - plain < timedelta(milliseconds=1) > plain - reached
        assert found.at(reached) == pytest.approx(needed, abs=1e-6)


@given(STEPS, st.randoms(use_true_random=False), DAYS)
def test_the_order_of_the_readings_does_not_matter(
    steps: list[tuple[float, float]], random: Any, number: float
) -> None:
    log = as_log(steps)
    shuffled = random.sample(log, len(log))
    assert of(shuffled).at(day(number)) == of(log).at(day(number))
    assert degree_days(shuffled, START, day(30), POND) == degree_days(log, START, day(30), POND)


@given(STEPS, st.floats(0, 10), st.floats(0.1, 10), DAYS)
def test_a_soak_takes_half_of_what_it_covers(
    steps: list[tuple[float, float]], begins: float, lasts: float, number: float
) -> None:
    log = as_log(steps)
    whole, halved = of(log), of(log, half_credit=[(day(begins), day(begins + lasts))])
    ends = min(max(number, begins), begins + lasts)
    covered = whole.at(day(ends)) - whole.at(day(begins))
    assert halved.at(day(number)) == pytest.approx(whole.at(day(number)) - covered / 2, abs=1e-6)
