"""When to order: known needs are projected, unknown ones held against a reorder point."""

from datetime import date, timedelta
from typing import Any

import pytest

from service.ordering.rules import Shelf, balances_ahead, enough_history, expiring, reorder

TODAY = date(2026, 3, 1)
FAR = TODAY + timedelta(days=400)


def shelf(**changes: Any) -> Shelf:
    plain: dict[str, Any] = {
        "material_code": "copper-stock",
        "base_unit": "uL",
        "lead_time_days": 6,
        "pack": None,
        "batches": [(FAR, 700)],
        "needs": {},
        "used": [],
    }
    return Shelf(**{**plain, **changes})


def day(n: int) -> date:
    return TODAY + timedelta(days=n)


def test_two_uses_on_two_days_are_a_history() -> None:
    assert not enough_history([])
    assert not enough_history([0, 500, 0])
    assert enough_history([500, 0, 1])


def test_nothing_used_and_nothing_owed_asks_for_nothing() -> None:
    found = reorder(shelf(), TODAY)
    assert (found.usable, found.committed, found.expected, found.order_by, found.low) == (
        700,
        0,
        0,
        None,
        False,
    )
    assert found.runs_out_on is None


def test_a_course_under_way_is_counted_day_by_day_and_the_order_is_in_time() -> None:
    # Projected available balance, sampling.md 5.2 after the usual MRP record: 60 on days 1, 2, 4, 5 of 7
    needs = {day(week * 7 + n): 60 for week in range(4) for n in (1, 2, 4, 5)}
    found = reorder(shelf(needs=needs), TODAY)
    assert found.committed == 16 * 60
    assert found.runs_out_on == day(19)  # the twelfth draw of 60 takes 720 of 700
    assert found.low
    assert found.order_by == TODAY  # what is free is below what is owed: order now


def test_what_runs_out_later_is_ordered_a_lead_time_before() -> None:
    needs = {day(30): 600}
    found = reorder(shelf(needs=needs, batches=[(day(20), 650), (FAR, 50)]), TODAY)
    assert found.runs_out_on == day(30)  # 650 expire on the way
    assert found.order_by == day(24)


def test_usage_is_expected_to_go_on() -> None:
    found = reorder(shelf(used=[10] * 30, batches=[(FAR, 1000)]), TODAY)
    assert found.enough_history
    assert found.expected == 60  # 10 a day over a lead time of 6 days
    assert found.reorder_point == 60  # no spread, so no safety stock (d L, Stevenson, section 12)
    assert not found.low
    assert reorder(shelf(used=[10] * 30, batches=[(FAR, 60)]), TODAY).low


@pytest.mark.parametrize(("usable", "packs"), [(1000, 0), (60, 1), (0, 2)])
def test_an_order_is_in_whole_packs_and_covers_a_month(usable: int, packs: int) -> None:
    found = reorder(shelf(used=[10] * 30, batches=[(FAR, usable)], pack=300), TODAY)
    assert found.packs == packs


def test_a_need_of_yesterday_is_still_a_need() -> None:
    assert balances_ahead(shelf(needs={day(-2): 100}), 0.0, TODAY)[0] == 600


def test_first_expired_is_used_first_and_the_rest_of_it_is_lost() -> None:
    out = {day(n): 10.0 for n in range(5)}
    lost = expiring([(FAR, 100), (day(1), 50)], out)
    assert lost == {day(2): 30.0}
