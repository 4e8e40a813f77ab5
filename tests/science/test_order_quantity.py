"""Order quantities: cheap, in whole packs, used up before they expire, and never too little."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.domain import OutOfDomain
from service.science.order_quantity import (
    Costs,
    OrderQuantity,
    cost_per_year,
    economic_order_quantity,
    order_quantity,
    shelf_life_cap,
)

BLEACH = Costs(65.7, 8, 1.2)  # litres a year
AMOUNT = st.floats(0.1, 1000)
COSTS = st.builds(Costs, AMOUNT, AMOUNT, AMOUNT)


def test_the_cheapest_quantity_balances_ordering_and_keeping() -> None:
    best = economic_order_quantity(BLEACH)
    assert best == pytest.approx(29.597, abs=5e-4)
    assert BLEACH.demand_per_year * 8 / best == pytest.approx(1.2 * best / 2)


@pytest.mark.parametrize(("times", "dearer"), [(1.2, 1 + 1 / 60), (0.8, 1.025), (1.0, 1.0), (2.0, 1.25)])
def test_cost_is_flat_around_the_best(times: float, dearer: float) -> None:
    # By half of k and its reciprocal.
    best = economic_order_quantity(BLEACH)
    assert cost_per_year(BLEACH, times * best) == pytest.approx(dearer * cost_per_year(BLEACH, best))


def test_shelf_life_caps_the_order() -> None:
    # 65.7 L a year for 120 days: 21.6 L.
    assert shelf_life_cap(65.7, 120) == pytest.approx(21.6)
    found = order_quantity(BLEACH, pack=5, usable_days=120)
    assert found == OrderQuantity(4, 20, found.unrounded, cost_per_year(BLEACH, 20), outlives_use=False)
    assert found.unrounded == pytest.approx(21.6)


@pytest.mark.parametrize(
    ("pack", "usable_days", "needed", "packs", "outlives"),
    [
        (10, 3650, 0, 3, False),  # 20 and 30 around 29.6: 30 costs less
        (20, 3650, 0, 2, False),  # 20 and 40: 38.28 a year and 37.14
        (7.2, 120, 0, 3, False),  # 21.6 L are three packs, whatever the last bit of the cap
        (25, 120, 0, 1, True),  # one pack is more than is used in 120 days
        (5, 120, 23, 5, True),  # the need is more than the cap
        (5, 120, 20, 4, False),
        (5, 3650, 12, 6, False),
    ],
)
def test_orders_are_whole_packs(
    pack: float, usable_days: float, needed: float, packs: int, outlives: bool
) -> None:
    found = order_quantity(BLEACH, pack=pack, usable_days=usable_days, needed=needed)
    assert (found.packs, found.quantity, found.outlives_use) == (packs, packs * pack, outlives)
    assert found.cost_per_year == pytest.approx(cost_per_year(BLEACH, packs * pack))


def test_of_two_that_cost_the_same_the_smaller_is_ordered() -> None:
    # D = S = H = 1 and a pack p: 1 and 2 packs cost the same when 2 p^2 = 2 D S / H.
    found = order_quantity(Costs(1, 1, 1), pack=1, usable_days=36_500)
    assert cost_per_year(Costs(1, 1, 1), 1) == cost_per_year(Costs(1, 1, 1), 2) == 1.5
    assert found.packs == 1


@given(COSTS, AMOUNT, st.floats(1, 4000), st.floats(0, 1000))
def test_orders_are_never_below_need_nor_beyond_shelf_life_but_for_need(
    costs: Costs, pack: float, usable_days: float, needed: float
) -> None:
    found = order_quantity(costs, pack=pack, usable_days=usable_days, needed=needed)
    assert found.packs >= 1
    assert found.quantity == found.packs * pack
    assert found.quantity >= needed * (1 - 1e-9)
    cap = shelf_life_cap(costs.demand_per_year, usable_days)
    if not found.outlives_use:
        assert found.quantity <= cap * (1 + 1e-6) + pack * 1e-6
    else:
        assert found.quantity > cap * (1 - 1e-9)
        assert found.packs == 1 or found.quantity - pack < needed


@given(COSTS, AMOUNT)
def test_no_other_number_of_packs_is_cheaper(costs: Costs, pack: float) -> None:
    found = order_quantity(costs, pack=pack, usable_days=1e12)
    for packs in (found.packs - 1, found.packs + 1):
        if packs:
            assert cost_per_year(costs, packs * pack) >= found.cost_per_year * (1 - 1e-12)


@pytest.mark.parametrize(
    ("parameter", "refused"),
    [
        ("demand_per_year", lambda: economic_order_quantity(Costs(0, 1, 1))),
        ("cost_per_order", lambda: economic_order_quantity(Costs(1, 0, 1))),
        ("holding_cost_per_unit_year", lambda: economic_order_quantity(Costs(1, 1, 0))),
        ("quantity", lambda: cost_per_year(BLEACH, 0)),
        ("demand_per_year", lambda: shelf_life_cap(0, 1)),
        ("usable_days", lambda: shelf_life_cap(1, 0)),
        ("pack", lambda: order_quantity(BLEACH, pack=0, usable_days=1)),
        ("usable_days", lambda: order_quantity(BLEACH, pack=1, usable_days=-1)),
        ("needed", lambda: order_quantity(BLEACH, pack=1, usable_days=1, needed=-1)),
    ],
)
def test_figures_that_make_no_order_are_refused(parameter: str, refused: Callable[[], object]) -> None:
    with pytest.raises(OutOfDomain) as refusal:
        refused()
    assert refusal.value.parameter == parameter
