"""When to order, and the reasons in words."""

import pytest

from service.ordering.rules import reorder
from service.ordering.words import reasons
from tests.ordering.make_shelves import FAR, TODAY, ahead, needs, shelf


def test_the_reorder_point_is_expected_use_and_safety_for_the_time_of_delivery() -> None:
    # d L + z sqrt(L sd^2): 5 and 10 in turn are mean 7.5 and sd 2.5212 (60 days, n - 1), 7 days, z 1.64485:
    # 52.5 + 10.97 = 63 (formula: Stevenson, Operations Management, 14th ed.; computed by hand).
    line = reorder(shelf(used=[5, 10] * 30), TODAY)
    assert (line.expected, line.reorder_point) == (52, 63)
    assert (line.enough_history, line.intermittent) == (True, False)


def test_a_delivery_that_varies_raises_the_reorder_point() -> None:
    # Stevenson's form with a constant demand of 10 a day: 10 x 7 + 1.64485 x 10 x 2 = 102.9.
    line = reorder(shelf(used=[10] * 30, lead_time_deviation_days=2.0), TODAY)
    assert line.reorder_point == 103


def test_a_higher_service_level_raises_the_reorder_point() -> None:
    # z of 99 % is 2.32635: 70 + 2.32635 x 10 x 2 = 116.5.
    line = reorder(shelf(used=[10] * 30, lead_time_deviation_days=2.0, service_level=0.99), TODAY)
    assert line.reorder_point == 117


def test_known_needs_set_the_day_to_order_by() -> None:
    # Projected available balance worked by hand: 700 in stock, 60 needed on days 1, 2, 4, 5 of every 7. The
    # 12th dose falls on day 19 and cannot be met; delivery takes 6 days.
    doses = needs({n: 60 for n in range(28) if n % 7 + 1 in {1, 2, 4, 5}})[:12]
    line = reorder(shelf(doses=doses, lead_time_days=6), TODAY)
    assert line.committed == 720
    assert line.runs_out_on == ahead(18)
    assert line.low  # less is free than the courses still need
    assert line.order_by == TODAY


def test_there_is_time_while_what_is_free_is_above_the_reorder_point() -> None:
    line = reorder(shelf(used=[10] * 30), TODAY)
    # Ten a day without variation: 700 last 70 days, the 71st cannot be met; order seven days before.
    assert (line.runs_out_on, line.order_by) == (ahead(70), ahead(63))
    assert (line.low, line.packs, line.quantity, line.cost) == (False, None, None, None)


def test_stock_that_nobody_needs_is_not_ordered() -> None:
    asked = shelf(pack=500)
    line = reorder(asked, TODAY)
    assert (line.runs_out_on, line.order_by, line.packs, line.low) == (None, None, 0, False)
    assert reasons(asked, line) == ["Fewer than two days of use on record: what comes cannot be foreseen."]


def test_stock_that_expires_in_the_middle_of_a_course_runs_out_though_there_is_enough() -> None:
    line = reorder(shelf(batches=[(ahead(20), 650), (FAR, 50)], doses=needs({30: 600})), TODAY)
    assert (line.runs_out_on, line.order_by) == (ahead(30), ahead(23))


def test_what_expires_before_it_is_used_is_not_there_when_packs_are_counted() -> None:
    # By hand: 10 a day; of 10,000 that keep four days more 50 are used. 70 until delivery and 300 for a
    # month, less those 50, are 320: four packs of 100.
    line = reorder(shelf(used=[10] * 30, batches=[(ahead(4), 10_000)], pack=100), TODAY)
    assert (line.order_by, line.packs) == (TODAY, 4)


def test_use_of_a_material_in_stock_is_held_against_its_reorder_point() -> None:
    # 10 a day over seven days without spread: 70, at which it is time.
    assert not reorder(shelf(used=[10] * 30, batches=[(FAR, 71)]), TODAY).low
    assert reorder(shelf(used=[10] * 30, batches=[(FAR, 70)]), TODAY).low


def test_the_reasons_are_said_in_words() -> None:
    asked = shelf(used=[10] * 30, doses=needs({1: 40_000}), batches=[(FAR, 1000)], pack=50_000)
    assert reasons(asked, reorder(asked, TODAY)) == [
        "Treatments under way still need 40 mL.",
        "That is more than the 1 mL that are there.",
        "What is free (0 mL) is at or below the reorder point (0.07 mL).",
        "It runs out on 2026-03-02.",
        "Delivery takes 7 days: order by 2026-03-01.",
        "1 pack for this and 30 days of expected use.",
    ]


# 3650 a year, 8.00 an order, a quarter of 0.05 for each a year: sqrt(2 x 3650 x 800 / 1.25) = 2161, 22 packs.
@pytest.mark.parametrize(
    ("terms", "sentence"),
    [
        ({}, "No pack size on record: the number of packs cannot be said."),
        ({"pack": 100, "least_order": 5000}, "50 packs: the least that is delivered."),
        ({"pack": 100, "least_order": 310}, "4 packs: the least that is delivered."),
        (
            {"pack": 100, "pack_cost": 500, "order_cost": 800, "keeps_days": 300},
            "22 packs cost least over a year, delivery and shelf counted.",
        ),
        ({"lead_time_deviation_days": 1.5}, "Delivery takes 7 days, give or take 1.5: order by 2026-03-01."),
        (
            {"pack": 4000, "keeps_days": 90},
            "Not all of that will be used before it expires: ask for a smaller pack.",
        ),
    ],
)
def test_what_is_special_about_a_delivery_is_said(terms: dict[str, float], sentence: str) -> None:
    asked = shelf(used=[10] * 30, batches=[(FAR, 60)], **terms)
    assert sentence in reasons(asked, reorder(asked, TODAY))


def test_use_now_and_then_is_said() -> None:
    asked = shelf(used=[0, 0, 0, 60] * 20)
    assert "It is used now and then: whole uses are counted, not days." in reasons(
        asked, reorder(asked, TODAY)
    )
