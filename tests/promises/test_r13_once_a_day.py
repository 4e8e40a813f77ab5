"""R13 and R14: the night's work comes once a day of the calendar, elapsed time is counted in hours of UTC."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.clock import day_start, first_day_after
from service.science.development import Reading, degree_days
from tests.science.logs import POND
from tests.soak import figure
from worker.owed import NIGHT, night_is_due

# Lord Howe shifts by half an hour; Casablanca goes back for Ramadan; Apia and Chatham are near the date line.
ZONES = (
    "Europe/Rome",
    "America/New_York",
    "Australia/Lord_Howe",
    "Pacific/Apia",
    "Africa/Casablanca",
    "Pacific/Chatham",
)
FIRST = datetime(2024, 1, 1, tzinfo=UTC)
HOURS = 7 * 366 * 24  # to the end of 2030
STEPS = st.lists(
    st.one_of(
        st.just(timedelta(minutes=5)),
        st.floats(0, 72).map(lambda hours: timedelta(hours=hours)),  # nothing ran
        st.floats(-2, 2).map(lambda hours: timedelta(hours=hours)),  # the clock was set
    ),
    min_size=20,
    max_size=60,
)


@pytest.mark.promise(r=13)
@pytest.mark.soak
@settings(max_examples=figure(gate=200, full=10_000))
@given(st.sampled_from(ZONES), st.integers(0, HOURS), STEPS)
def test_the_night_is_owed_once_for_each_day_on_which_something_ran(
    zone: str, start: int, steps: list[timedelta]
) -> None:
    now, last = FIRST + timedelta(hours=start), None
    owed: list[date] = []
    seen: list[date] = []
    for step in steps:
        now += step
        # What the wall showed two hours before, by the standard library alone.
        seen.append((now - NIGHT).astimezone(ZoneInfo(zone)).date())
        if night_is_due(last, now, zone):
            last = now
            owed.append(seen[-1])
    latest = [day for n, day in enumerate(seen) if day > max(seen[:n], default=date.min)]
    assert owed == latest


# Measured with zoneinfo on 2026-07-27: the clocks of Rome go on on 29 March 2026 and back on 25 October 2026.
@pytest.mark.promise(r=14)
@pytest.mark.parametrize(("first", "hours"), [(date(2026, 3, 10), 671), (date(2026, 10, 10), 673)])
def test_28_days_of_the_calendar_are_an_hour_less_or_more_of_warmth(first: date, hours: int) -> None:
    zone, above = "Europe/Rome", 10.0
    start, end = day_start(first, zone), day_start(first + timedelta(days=28), zone)
    assert end - start == timedelta(hours=hours)
    celsius = POND.lower_threshold_c + above
    readings = [Reading(start + timedelta(hours=n), celsius) for n in range(hours + 1)]
    assert degree_days(readings, start, end, POND) == pytest.approx(above * hours / 24)


@pytest.mark.promise(r=14)
@pytest.mark.parametrize(
    ("ends", "released"),
    [
        (datetime(2026, 3, 28, 22, 59, tzinfo=UTC), date(2026, 3, 29)),  # 23:59 of the 28th
        (datetime(2026, 3, 28, 23, 0, tzinfo=UTC), date(2026, 3, 29)),  # the 29th begins
        (datetime(2026, 3, 29, 21, 59, tzinfo=UTC), date(2026, 3, 30)),  # 23:59, an hour earlier than it was
        (datetime(2026, 10, 24, 22, 0, tzinfo=UTC), date(2026, 10, 25)),
        (datetime(2026, 10, 25, 22, 59, tzinfo=UTC), date(2026, 10, 26)),
    ],
)
def test_a_release_day_is_the_first_that_begins_when_all_is_over(ends: datetime, released: date) -> None:
    assert first_day_after(ends, "Europe/Rome") == released
