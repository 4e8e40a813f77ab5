"""Stretches of time: what holds them, what they share, what one lacks of a whole."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.recalls.rules_windows import Window, hull, overlap, rest

START = datetime(2026, 3, 2, tzinfo=UTC)
WINDOWS = st.tuples(st.integers(0, 50), st.integers(1, 50)).map(lambda two: window(two[0], two[0] + two[1]))


def window(first: int, last: int) -> Window:
    return START + timedelta(days=first), START + timedelta(days=last)


def moments(found: Window | None) -> set[datetime]:
    """The days of a stretch, its end not included."""
    if found is None:
        return set()
    return {found[0] + timedelta(days=n) for n in range((found[1] - found[0]).days)}


@given(st.lists(WINDOWS, min_size=1, max_size=5))
def test_a_hull_is_the_shortest_stretch_that_holds_all(windows: list[Window]) -> None:
    days = set().union(*map(moments, windows))
    assert hull(*windows, None) == (min(days), max(days) + timedelta(days=1))


def test_nothing_has_no_hull() -> None:
    with pytest.raises(ValueError, match="empty"):
        hull(None)


@given(WINDOWS, WINDOWS)
def test_what_two_stretches_share_is_what_is_in_both(one: Window, other: Window) -> None:
    assert moments(overlap(one, other)) == moments(one) & moments(other)


@given(WINDOWS, WINDOWS)
def test_with_the_rest_what_is_known_is_the_hull_and_nothing_is_asked_twice_without_need(
    known: Window, wanted: Window
) -> None:
    lacking = rest(known, wanted)
    assert (lacking is None) == (moments(wanted) <= moments(known))
    assert moments(known) | moments(lacking) == moments(hull(known, wanted))
    if not (wanted[0] < known[0] and wanted[1] > known[1]):
        assert not moments(known) & moments(lacking)


@given(WINDOWS)
def test_who_knows_nothing_lacks_all_of_it(wanted: Window) -> None:
    assert rest(None, wanted) == wanted
