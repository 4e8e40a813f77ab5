"""How many packs, and what they cost."""

import pytest

from service.ordering.rules import reorder
from service.ordering.rules_demand import Expected
from service.ordering.rules_quantity import Terms, order_cost, packs_to_order
from service.science.demand import DailyDemand
from tests.ordering.make_shelves import FAR, TODAY, shelf


def test_packs_cover_the_reorder_point_and_a_month() -> None:
    line = reorder(shelf(used=[10] * 30, batches=[(FAR, 60)], pack=100), TODAY)
    # Reorder point 70, 60 there: 10 are missing and 300 for a month make 310, so 4 packs of 100.
    assert (line.low, line.order_by, line.packs, line.quantity) == (True, TODAY, 4, 400)


def test_at_least_one_pack_is_ordered_when_nothing_is_left() -> None:
    line = reorder(shelf(batches=[], pack=100), TODAY)
    assert (line.usable, line.low, line.packs) == (0, True, 1)


def test_no_less_is_ordered_than_is_delivered() -> None:
    line = reorder(shelf(used=[10] * 30, batches=[(FAR, 60)], pack=100, least_order=950), TODAY)
    assert line.packs == 10


def test_with_costs_on_record_it_is_the_quantity_of_least_cost() -> None:
    # Heizer & Render's pattern D = 1000, S = 10, H = 0.5 gives 200: here in packs of one at 2.00 each, a
    # quarter of which is what a year on the shelf costs.
    expected = Expected(DailyDemand(1000 / 365, 0.0))
    terms = Terms(lead_time_days=7, pack=1, pack_cost=200, order_cost=1000, keeps_days=365)
    assert packs_to_order(terms, expected, 0, due=True) == (200, False)


def test_the_quantity_of_least_cost_is_held_to_what_keeps() -> None:
    # 65.7 L a year, 8.00 an order, 1.20 for a litre and year, 120 days of life: 29.6 L would
    # cost least, 21.6 L are used in time (computed by hand from Harris' formula).
    expected = Expected(DailyDemand(65.7 / 365, 0.0))
    terms = Terms(lead_time_days=7, pack=1, pack_cost=480, order_cost=800, keeps_days=120)
    assert packs_to_order(terms, expected, 0, due=True) == (21, False)


def test_a_pack_too_large_to_be_used_in_time_is_said() -> None:
    expected = Expected(DailyDemand(1.0, 0.0))
    terms = Terms(lead_time_days=7, pack=400, keeps_days=365)
    assert packs_to_order(terms, expected, 0, due=True) == (1, True)
    assert packs_to_order(terms, expected, 35, due=True) == (1, False)


@pytest.mark.parametrize(("packs", "cost"), [(None, None), (0, 0), (3, 3 * 1250 + 400)])
def test_the_order_costs_its_packs_and_the_delivery(packs: int | None, cost: int | None) -> None:
    terms = Terms(lead_time_days=7, pack=100, pack_cost=1250, order_cost=400)
    assert order_cost(terms, packs) == cost


def test_without_a_price_no_cost_is_said() -> None:
    assert order_cost(Terms(lead_time_days=7, pack=100), 3) is None
