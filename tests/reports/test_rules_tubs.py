"""Tubs of the next weeks, by hand (decision 19)."""

from datetime import date, timedelta

import pytest

from service.reports.rules_tubs import STAY, Coming, Taken, TubWeek, tub_weeks, tubs_for

TODAY = date(2026, 3, 2)


def day(days: int) -> date:
    return TODAY + timedelta(days=days)


def test_a_tub_is_taken_until_its_last_lot_may_be_sold() -> None:
    weeks = tub_weeks(3, [Taken(day(7)), Taken(day(8)), Taken(None)], [], TODAY, 3)
    assert [(week.taken, week.free, week.missing) for week in weeks] == [(3, 0, 0), (2, 1, 0), (1, 2, 0)]
    assert (weeks[1].since, weeks[1].until) == (day(7), day(13))


def test_what_is_expected_needs_its_tubs_from_that_week_on_for_five_weeks() -> None:
    weeks = tub_weeks(1, [], [Coming(day(13), 2)], TODAY, 8)
    assert timedelta(days=35) == STAY  # free again on day 48, in the week of days 42 to 48
    assert [week.needed for week in weeks] == [0, 2, 2, 2, 2, 2, 2, 0]
    assert weeks[1] == TubWeek(day(7), day(13), 1, 0, 1, 2)
    assert weeks[1].missing == 1


def test_what_should_have_come_is_expected_today_and_more_than_all_cannot_be_taken() -> None:
    [week] = tub_weeks(0, [Taken(None)], [Coming(day(-9), 1)], TODAY, 1)
    assert (week.taken, week.free, week.needed, week.missing) == (1, 0, 1, 1)


@pytest.mark.parametrize(
    ("bags", "tubs"), [([], 0), ([None, None], 2), (["A", "A", None], 2), (["A", "B", "A"], 2)]
)
def test_lines_of_one_bag_share_a_tub(bags: list[str | None], tubs: int) -> None:
    assert tubs_for(bags) == tubs
