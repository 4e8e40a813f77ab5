"""When to order and how much."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.ordering.rules import HORIZON_DAYS, Shelf, balances_ahead, enough_history, expiring, reorder
from service.ordering.words import reasons

TODAY = date(2026, 3, 1)
FAR = date(2030, 1, 1)


def ahead(days: int) -> date:
    return TODAY + timedelta(days=days)


def shelf(**changes: Any) -> Shelf:
    plain = Shelf(
        material_code="copper-stock",
        base_unit="uL",
        lead_time_days=7,
        pack=None,
        batches=[(FAR, 700)],
        needs={},
        used=[],
    )
    return replace(plain, **changes)


def test_the_reorder_point_is_expected_use_and_safety_for_the_time_of_delivery() -> None:
    # d L + z sqrt(L sd^2): 0 and 10 in turn are mean 5 and sd 5.0637 (60 days, n - 1), 7 days, z 1.64485:
    # 35 + 22.04 = 57 (formula: Stevenson, Operations Management, 14th ed.; computed by hand).
    line = reorder(shelf(used=[0, 10] * 30), TODAY)
    assert (line.expected, line.reorder_point) == (35, 57)
    assert line.enough_history


@pytest.mark.parametrize(
    ("used", "enough"), [([], False), ([0, 5, 0], False), ([5, 5], True), ([0, 3, 0, 2], True)]
)
def test_two_uses_are_the_least_that_says_anything(used: list[int], enough: bool) -> None:
    assert enough_history(used) == enough
    assert reorder(shelf(used=used), TODAY).enough_history == enough


def test_known_needs_set_the_day_to_order_by() -> None:
    # Worked by hand: 700 in stock, 60 needed on days 1, 2, 4, 5 of every 7. The 12th dose falls on day 19 and
    # cannot be met; delivery takes 6 days.
    needs = {ahead(n): 60 for n in range(28) if n % 7 + 1 in {1, 2, 4, 5}}
    line = reorder(shelf(needs=dict(list(needs.items())[:12]), lead_time_days=6), TODAY)
    assert line.committed == 720
    assert line.runs_out_on == ahead(18)
    assert line.low  # less is free than the courses still need
    assert line.order_by == TODAY


def test_there_is_time_while_what_is_free_is_above_the_reorder_point() -> None:
    line = reorder(shelf(used=[10] * 30), TODAY)
    # Ten a day without variation: 700 last 70 days, the 71st cannot be met; order seven days before.
    assert (line.runs_out_on, line.order_by) == (ahead(70), ahead(63))
    assert (line.low, line.packs) == (False, None)


def test_stock_that_nobody_needs_is_not_ordered() -> None:
    line = reorder(shelf(pack=500), TODAY)
    assert (line.runs_out_on, line.order_by, line.packs, line.low) == (None, None, 0, False)
    assert reasons(shelf(pack=500), line) == [
        "Fewer than two days of use on record: what comes cannot be foreseen."
    ]


def test_packs_cover_the_reorder_point_and_a_month() -> None:
    line = reorder(shelf(used=[10] * 30, batches=[(FAR, 60)], pack=100), TODAY)
    # Reorder point 70, 60 there: 10 are missing and 300 for a month make 310, so 4 packs of 100.
    assert (line.low, line.order_by, line.packs) == (True, TODAY, 4)
    said = reasons(shelf(used=[10] * 30, pack=100), line)
    assert "4 packs for this and 30 days of expected use." in said


def test_at_least_one_pack_is_ordered_when_nothing_is_left() -> None:
    line = reorder(shelf(batches=[], pack=100), TODAY)
    assert (line.usable, line.low, line.packs) == (0, True, 1)
    assert "Nothing usable is left." in reasons(shelf(batches=[], pack=100), line)


def test_needs_that_are_overdue_count_for_today() -> None:
    assert balances_ahead(shelf(needs={ahead(-2): 100}), 0, TODAY)[0] == 600


def test_what_expires_before_it_is_used_is_lost() -> None:
    # 10 a day from 25 that keep until day 1 and 100 that keep: 20 of the first are used, 5 lost on day 2.
    batches = [(ahead(1), 25), (FAR, 100)]
    out = {ahead(n): 10.0 for n in range(5)}
    assert expiring(batches, out) == {ahead(2): 5.0}
    assert balances_ahead(shelf(batches=batches), 10, TODAY)[:4] == [115, 105, 90, 80]


def test_stock_that_expires_in_the_middle_of_a_course_runs_out_though_there_is_enough() -> None:
    line = reorder(shelf(batches=[(ahead(3), 700)], needs={ahead(10): 60}), TODAY)
    assert line.runs_out_on == ahead(10)
    assert line.order_by == ahead(3)


def test_the_reasons_are_said_in_words() -> None:
    asked = shelf(used=[10] * 30, needs={ahead(1): 40_000}, batches=[(FAR, 1000)], pack=50_000)
    assert reasons(asked, reorder(asked, TODAY)) == [
        "Treatments under way still need 40 mL.",
        "That is more than the 1 mL that are there.",
        "What is free (0 mL) is at or below the reorder point (0.07 mL).",
        "It runs out on 2026-03-02.",
        "Delivery takes 7 days: order by 2026-03-01.",
        "1 pack for this and 30 days of expected use.",
    ]


def test_an_unknown_pack_is_said() -> None:
    asked = shelf(used=[10] * 30)
    assert "No pack size on record: the number of packs cannot be said." in reasons(
        asked, reorder(asked, TODAY)
    )


@given(
    st.lists(st.tuples(st.integers(0, 60), st.integers(1, 1000)), max_size=5),
    st.lists(st.integers(0, 50), min_size=1, max_size=80),
)
def test_nothing_is_lost_twice(batches: list[tuple[int, int]], out: list[int]) -> None:
    stock = [(ahead(days), amount) for days, amount in batches]
    lost = expiring(stock, {ahead(n): float(amount) for n, amount in enumerate(out)})
    there = sum(amount for _, amount in stock)
    assert 0 <= sum(lost.values()) <= there
    assert sum(lost.values()) >= there - sum(out) - sum(a for d, a in stock if d >= ahead(len(out) - 1))


def test_the_horizon_is_half_a_year() -> None:
    assert len(balances_ahead(shelf(), 1, TODAY)) == HORIZON_DAYS
