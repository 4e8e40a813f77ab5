"""The stock day by day, what expires on the way, and which treatments come short."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.ordering.rules import ahead as days_of
from service.ordering.rules_ahead import DoseAhead, Shortfall, days_ahead, expiring, shortfalls
from tests.ordering.make_shelves import FAR, TODAY, ahead, needs, shelf


def test_needs_that_are_overdue_count_for_today() -> None:
    [today, *_] = days_of(shelf(doses=needs({-2: 100, 0: 20})), TODAY, 5)
    assert (today.committed, today.balance) == (120, 580)


def test_each_day_says_what_was_taken_off() -> None:
    # By hand: 10 a day from 25 that keep until day 1 and 100 that keep: 20 of the first are used, 5 lost on
    # day 2, where a course takes 30 as well.
    found = days_ahead([(ahead(1), 25), (FAR, 100)], {ahead(2): 30}, 10.0, TODAY, 4)
    assert [day.balance for day in found] == [115, 105, 60, 50]
    assert [(day.committed, day.expected, day.expires) for day in found[1:3]] == [(0, 10, 0), (30, 10, 5)]


def test_a_balance_below_zero_is_what_is_missing() -> None:
    found = days_ahead([(FAR, 50)], {ahead(1): 80}, 0.0, TODAY, 3)
    assert [day.balance for day in found] == [50, -30, -30]


def test_first_expired_is_used_first_and_the_rest_of_it_is_lost() -> None:
    out = {ahead(n): 10.0 for n in range(5)}
    assert expiring([(FAR, 100), (ahead(1), 50)], out) == {ahead(2): 30.0}


def test_the_earlier_dose_is_served_first() -> None:
    doses = [*needs({1: 60, 8: 60}, "late"), *needs({0: 60, 4: 60}, "early")]
    assert shortfalls([(FAR, 200)], doses) == [Shortfall("late", ahead(8), 40)]


def test_a_course_comes_short_when_its_stock_expires_in_between() -> None:
    assert shortfalls([(ahead(3), 700)], needs({2: 60, 4: 60, 6: 60})) == [Shortfall("one", ahead(4), 120)]


@given(
    st.lists(st.tuples(st.integers(0, 60), st.integers(1, 1000)), max_size=5),
    st.lists(st.integers(0, 50), min_size=1, max_size=80),
)
def test_nothing_is_lost_twice(batches: list[tuple[int, int]], out: list[int]) -> None:
    stock = [(ahead(days), amount) for days, amount in batches]
    lost = expiring(stock, {ahead(n): float(amount) for n, amount in enumerate(out)})
    there = sum(amount for _, amount in stock)
    assert 0 <= sum(lost.values()) <= there
    assert sum(lost.values()) == pytest.approx(max(0, there - sum(out)), abs=there)


@given(
    st.lists(st.tuples(st.integers(0, 40), st.integers(1, 1000)), max_size=5),
    st.lists(st.tuples(st.integers(0, 40), st.sampled_from("abc"), st.integers(1, 400)), max_size=20),
)
def test_what_is_missing_and_what_is_served_are_all_that_is_needed(
    batches: list[tuple[int, int]], wanted: list[tuple[int, str, int]]
) -> None:
    stock = [(ahead(days), amount) for days, amount in batches]
    doses = [DoseAhead(ahead(day), treatment, amount) for day, treatment, amount in wanted]
    missing = sum(short.base_units for short in shortfalls(stock, doses))
    needed, there = sum(dose.base_units for dose in doses), sum(amount for _, amount in stock)
    assert max(0, needed - there) <= missing <= needed
    assert shortfalls([(FAR, needed + 1)], doses) == []
