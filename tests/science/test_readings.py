"""The gap rule of a temperature log (its limits are assumptions) and how well a log covers a time."""

from datetime import UTC, datetime, timedelta, timezone

import pytest

from service.science.development import Coverage, Reading, coverage, degree_days
from service.science.domain import OutOfDomain
from service.science.readings import in_order
from tests.science.logs import POND, START, day, steady


def two(hours: float, former_c: float = 21.0, latter_c: float = 15.0) -> list[Reading]:
    return [Reading(START, former_c), Reading(day(hours / 24), latter_c)]


def figures(found: Coverage) -> tuple[float, float]:
    return found.credited_share, found.longest_gap_h


def credit(readings: list[Reading], hours: float) -> float:
    """Degree-days above 9 °C in the first hours, as degree-hours."""
    return 24 * degree_days(readings, START, day(hours / 24), POND)


@pytest.mark.parametrize("hours", [1, 2])
def test_up_to_two_hours_the_former_reading_holds(hours: float) -> None:
    assert credit(two(hours), hours) == pytest.approx(hours * 12)


@pytest.mark.parametrize("hours", [2.001, 4, 6])
def test_up_to_six_hours_the_temperature_runs_straight(hours: float) -> None:
    assert credit(two(hours), hours) == pytest.approx(hours * (12 + 6) / 2)


@pytest.mark.parametrize("hours", [6.001, 12])
def test_up_to_twelve_hours_the_lesser_flank_counts(hours: float) -> None:
    assert credit(two(hours), hours) == pytest.approx(hours * 6)


@pytest.mark.parametrize("hours", [12.001, 24, 30])
def test_up_to_thirty_hours_a_degree_is_taken_off_for_the_night(hours: float) -> None:
    assert credit(two(hours), hours) == pytest.approx(hours * 5)


def test_beyond_thirty_hours_nothing_is_credited() -> None:
    assert credit(two(30.001), 30.001) == 0


def test_the_last_reading_speaks_for_no_time_until_the_next_one_comes() -> None:
    assert credit([Reading(START, 21.0)], 48) == 0
    assert credit(two(2), 48) == pytest.approx(2 * 12)


def test_before_the_first_reading_nothing_is_known() -> None:
    assert degree_days([Reading(day(1), 21.0)], START, day(1), POND) == 0
    assert degree_days([], START, day(1), POND) == 0


@pytest.mark.parametrize("hours", [8, 24])
def test_overheated_water_on_a_flank_takes_the_credit_of_an_unseen_stretch(hours: float) -> None:
    assert credit(two(hours, 35.0, 30.0), hours) == 0
    assert credit(two(hours, 34.5, 34.5), hours) == 0


@pytest.mark.parametrize(
    ("former", "latter", "degree_hours"),
    [
        (7.0, 11.0, 2 * 1),  # above 9 °C in the second half only, 1 on average
        (11.0, 7.0, 2 * 1),
        (26.0, 30.0, 2 * 18 + 2 * 19),  # level from 28 °C on
        (32.0, 36.0, 2 * 19),  # nothing above 34 °C
        (6.0, 7.0, 0),
        (28.0, 30.0, 4 * 19),
        (21.0, 21.0, 4 * 12),
    ],
)
def test_a_straight_course_is_integrated_exactly_over_every_bend(
    former: float, latter: float, degree_hours: float
) -> None:
    assert credit(two(4, former, latter), 4) == pytest.approx(degree_hours)


def test_readings_are_put_in_order_and_the_last_at_a_moment_counts() -> None:
    mixed = [Reading(day(1), 20.0), Reading(START, 18.0), Reading(day(1), 22.0)]
    assert in_order(mixed) == [Reading(START, 18.0), Reading(day(1), 22.0)]


def test_a_moment_is_the_same_in_every_time_zone() -> None:
    elsewhere = START.astimezone(timezone(timedelta(hours=9)))
    assert len(in_order([Reading(START, 18.0), Reading(elsewhere, 19.0)])) == 1


@pytest.mark.parametrize("celsius", [-1.1, 45.1, float("nan"), float("inf")])
def test_a_probe_out_of_the_water_is_rejected(celsius: float) -> None:
    with pytest.raises(OutOfDomain, match="celsius"):
        Reading(START, celsius)


@pytest.mark.parametrize("celsius", [-1.0, 45.0])
def test_the_limits_themselves_are_readings(celsius: float) -> None:
    assert Reading(START, celsius).celsius == celsius


def test_a_moment_without_its_offset_is_refused() -> None:
    naive = datetime(2026, 3, 2, 9, 30, tzinfo=UTC).replace(tzinfo=None)
    with pytest.raises(OutOfDomain, match="offset from UTC"):
        Reading(naive, 21.0)
    with pytest.raises(OutOfDomain, match="offset from UTC"):
        coverage([], naive, START)


def test_an_hourly_log_covers_its_time() -> None:
    assert figures(coverage(steady(10), START, day(10))) == pytest.approx((1.0, 1.0))


def test_a_silent_logger_shows_as_share_and_as_gap() -> None:
    # Four days of readings, two of silence, four of readings.
    silent = [found for found in steady(10) if not day(4) < found.at < day(6)]
    assert figures(coverage(silent, START, day(10))) == pytest.approx((0.8, 48.0))


def test_what_comes_after_the_last_reading_is_a_gap_too() -> None:
    assert figures(coverage(steady(1), START, day(5))) == pytest.approx((24 / 120, 96.0))


def test_only_the_part_of_a_gap_inside_the_time_counts() -> None:
    assert figures(coverage(two(60), day(1), day(2))) == pytest.approx((0.0, 24.0))


def test_no_reading_at_all_covers_nothing() -> None:
    assert figures(coverage([], START, day(2))) == pytest.approx((0.0, 48.0))


def test_cold_water_is_covered_though_it_gives_no_credit() -> None:
    assert coverage(steady(2, 4.0), START, day(2)).credited_share == pytest.approx(1.0)


def test_a_time_without_length_is_covered_and_one_that_runs_backwards_refused() -> None:
    assert coverage([], START, START) == Coverage(1.0, 0.0)
    with pytest.raises(OutOfDomain):
        coverage([], day(1), START)
