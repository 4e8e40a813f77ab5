"""Gaps and cold weeks in words, against the closed form K x F / (T - T0) of `test_rules_release`.

A pond snail's 1.5 x 176 degree-days above 9 °C at 21 °C take 264 / 12 = 22 days. Seven days at 15 °C give
6 in place of 12 a day: 42 degree-days, which at 21 °C take 3.5 days.
"""

from datetime import datetime, timedelta

import pytest

from service.quarantine.rules import Clock
from service.quarantine.rules_release import Log, Wait, project
from service.quarantine.rules_weather import explained
from service.science.development import Reading
from tests.quarantine.test_rules_release import SNAIL, day, hourly, wait

COLD_WEEK = "7 days below 19 °C between 2026-03-05 and 2026-03-12"


def said(
    readings: list[Reading], now: float, *, set_point: float | None = 21, expected: float = 21
) -> list[str]:
    waited: Wait = wait(SNAIL)
    log = Log(readings, expected)
    found = project(Clock(day(0), "counted", treated=True), waited, log, [], repacked_at=None, now=day(now))
    return list(explained(found, waited, log, set_point, day(now)))


def week(celsius: float, until: float) -> list[Reading]:
    """An hourly log at 21 °C with the days 3 to 10 at another temperature."""
    first, last = day(3), day(10)
    return [Reading(found.at, celsius) if first <= found.at < last else found for found in hourly(until, 21)]


def test_a_cold_week_says_how_many_days_it_cost() -> None:
    longer = "3.5 days longer than at the set point of 21 °C."
    assert said(week(15, 40), now=40) == [f"{COLD_WEEK}: hatching took {longer}"]
    assert said(week(15, 12), now=12) == [f"{COLD_WEEK}: hatching takes {longer}"]


def test_the_cold_before_now_is_counted_as_far_as_it_has_come() -> None:
    [sentence] = said([*hourly(3, 21), *hourly(1, 15, first=3)], now=4)
    assert sentence.startswith("1 day below 19 °C between 2026-03-05 and 2026-03-06: hatching takes 0.5 days")


def test_what_never_hatches_says_that_no_day_can_be_said() -> None:
    [sentence] = said(hourly(20, 8), now=20, expected=8)
    assert sentence.endswith("it can't be said when the eggs will have hatched.")


@pytest.mark.parametrize("celsius", [19.0, 20.0, 25.0])
def test_a_swing_of_two_degrees_is_no_cold(celsius: float) -> None:
    assert said(week(celsius, 40), now=40) == []


def test_less_than_a_day_of_cold_is_not_worth_saying() -> None:
    hours = [Reading(found.at, 15) if day(3) <= found.at < day(3.9) else found for found in hourly(40, 21)]
    assert said(hours, now=40) == []


def test_without_a_set_point_nobody_knows_what_cold_is() -> None:
    assert said(week(15, 40), now=40, set_point=None) == []


def test_readings_far_apart_are_cold_by_the_colder_one() -> None:
    daily = [Reading(day(n), 15 if n == 5 else 21) for n in range(41)]
    [sentence] = said(daily, now=40)
    assert sentence.startswith("2 days below 19 °C between 2026-03-06 and 2026-03-08")


def test_a_gap_says_from_when_to_when_nothing_was_read() -> None:
    def moment(at: datetime) -> str:
        return f"{at:%Y-%m-%d %H:%M} UTC"

    readings = [*hourly(5, 21), *hourly(35, 21, first=7)]
    words = "no temperature was read: that time counts for nothing."
    assert said(readings, now=40) == [f"From {moment(day(5))} to {moment(day(7))} {words}"]
    to_now = [f"From {moment(day(5))} to {moment(day(9))} {words}"]
    assert said(hourly(5, 21), now=9) == to_now
    assert said([*hourly(5, 21), Reading(day(5) + timedelta(hours=30), 21)], now=6.25) == []


def test_before_the_clock_has_started_nothing_is_explained() -> None:
    waited, log = wait(SNAIL), Log(week(15, 40), 21)
    found = project(Clock(None, "Two looks are owed."), waited, log, [], repacked_at=None, now=day(40))
    assert explained(found, waited, log, 21, day(40)) == ()
