"""Searching for the first number that holds."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.searching import doubled_until, first_that_holds


@given(st.integers(1, 10**6), st.integers(0, 10**6))
def test_the_first_that_holds_is_found(first: int, more: int) -> None:
    assert first_that_holds(lambda number: number >= first, low=0, high=first + more) == first


@pytest.mark.parametrize(
    ("first", "last", "found"), [(1, 9, 1), (2, 9, 2), (3, 9, 4), (5, 9, 8), (9, 9, 9), (5, 4, 4), (1, 1, 1)]
)
def test_doubling_ends_at_the_last(first: int, last: int, found: int) -> None:
    assert doubled_until(lambda number: number >= first, last) == found


def test_the_last_is_never_tried() -> None:
    tried: list[int] = []

    def never(number: int) -> bool:
        tried.append(number)
        return False

    assert doubled_until(never, 8) == 8
    assert tried == [1, 2, 4]
