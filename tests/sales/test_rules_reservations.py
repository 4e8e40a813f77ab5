"""Which lots give, how long a promise may hold, and what it becomes."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.sales.rules_reservations import (
    HOLDS_AT_MOST,
    TRANSITIONS,
    Offer,
    Status,
    allocate,
    expiry_reasons,
    settled,
    transition_reasons,
)

NOW = datetime(2026, 3, 2, tzinfo=UTC)


def offers(*free: int) -> list[Offer]:
    return [Offer(f"lot {n}", NOW + timedelta(days=n), units) for n, units in enumerate(free)]


def test_the_lot_cleared_first_gives_first() -> None:
    assert allocate(7, list(reversed(offers(5, 0, 3)))) == [("lot 0", 5), ("lot 2", 2)]


@given(quantity=st.integers(1, 50), free=st.lists(st.integers(-3, 20), max_size=6))
def test_no_lot_gives_more_than_it_has_and_none_is_passed_over(quantity: int, free: list[int]) -> None:
    given_units = dict(allocate(quantity, offers(*free)))
    assert sum(given_units.values()) == min(quantity, sum(max(0, units) for units in free))
    for n, units in enumerate(free):
        part = given_units.get(f"lot {n}", 0)
        assert 0 <= part <= max(0, units)
        if any(f"lot {later}" in given_units for later in range(n + 1, len(free))):
            assert part == max(0, units)


@pytest.mark.parametrize(
    ("ends", "code"),
    [
        (NOW, "in-the-past"),
        (NOW + timedelta(seconds=1), None),
        (NOW + HOLDS_AT_MOST, None),
        (NOW + HOLDS_AT_MOST + timedelta(seconds=1), "too-long"),
    ],
    ids=["now", "soon", "longest", "longer"],
)
def test_a_promise_ends_in_the_future_and_not_in_the_far_one(ends: datetime, code: str | None) -> None:
    assert [reason.code for reason in expiry_reasons(ends, NOW)] == ([code] if code else [])


@pytest.mark.parametrize(
    ("lines", "status"),
    [
        ([(5, 4, 0)], None),
        ([(5, 5, 0), (2, 0, 1)], None),
        ([(5, 5, 0)], Status.FULFILLED),
        ([(5, 2, 3)], Status.FULFILLED),
        ([(5, 0, 5)], Status.FREED),
    ],
)
def test_a_promise_is_over_when_nothing_is_owed(
    lines: list[tuple[int, int, int]], status: Status | None
) -> None:
    assert settled(lines) is status


def test_every_status_says_what_may_follow() -> None:
    assert set(TRANSITIONS) == set(Status)
    assert transition_reasons(Status.OPEN, Status.CONFIRMED) == []
    [reason] = transition_reasons(Status.EXPIRED, Status.CONFIRMED)
    assert (reason.code, reason.have) == ("reservation-over", "expired")
