"""Reorder points and projected balances, against worked examples of operations management textbooks."""

import math
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from service.science.demand import (
    DailyDemand,
    daily_demand,
    first_day_below,
    packs_needed,
    projected_balance,
    reorder_point,
    safety_stock,
    service_factor,
)
from service.science.domain import OutOfDomain

# (mean a day, deviation, lead time, its deviation, z) -> reorder point
WORKED = [
    # Taylor, Introduction to Management Science, carpet store: 30 a day, 5, 10 days, z 1.65; result computed.
    ((30, 5, 10, 0, 1.65), 326.09),
    # The same with a lead time that varies by 3 days; from memory, computed.
    ((30, 5, 10, 3, 1.65), 450.77),
    # Constant demand of 12 500 a day, lead time 4 days give or take 1, 97 % service with z 1.88.
    ((12_500, 0, 4, 1, 1.88), 73_500),
    # A web example with 100 a day, 20, 7 days, 2, z 1.65; it rounds sigma to 207 and prints 1 042.
    ((100, 20, 7, 2, 1.65), 1_041.35),
    # Heizer & Render, Operations Management, battery and camera; from memory, computed.
    ((150, 16, 5, 1, 1.65), 1_004.44),
    ((10, 0, 6, 1, 2.055), 80.55),
    # A nursery's bleach: computed, its service confirmed by simulation.
    ((180, 70, 6, 1.5, 1.6448536), 1_606.096),
]


@pytest.mark.parametrize(("given_", "expected"), WORKED)
def test_the_reorder_point_is_that_of_the_worked_examples(
    given_: tuple[float, float, float, float, float], expected: float
) -> None:
    mean, deviation, lead, lead_deviation, z = given_
    found = reorder_point(DailyDemand(mean, deviation), lead, z, lead_time_deviation_days=lead_deviation)
    assert found == pytest.approx(expected, rel=1e-5)


def test_stevenson_example_8_with_the_deviation_of_the_whole_lead_time() -> None:
    # Stevenson, Operations Management, 14th ed., example 8: mean 50 t and deviation 5 t of the lead time's
    # demand, risk 3 %, z 1.88 -> safety stock 9.40, reorder point 59.40.
    whole = DailyDemand(50, 5)
    assert safety_stock(whole, 1, 1.88) == pytest.approx(9.40)
    assert reorder_point(whole, 1, service_factor(0.97)) == pytest.approx(59.40397, abs=1e-5)


@pytest.mark.parametrize(
    ("level", "z"),
    [(0.90, 1.2815516), (0.95, 1.6448536), (0.975, 1.9599640), (0.98, 2.0537489), (0.99, 2.3263479)],
)
def test_the_service_factor_is_the_normal_quantile(level: float, z: float) -> None:
    # Printed in every table of the normal distribution; scipy as second witness.
    assert service_factor(level) == pytest.approx(z, abs=5e-8)
    assert service_factor(level) == pytest.approx(stats.norm.ppf(level))


@pytest.mark.parametrize("level", [0.0, 0.5, 1.0, math.nan])
def test_a_service_level_that_makes_no_sense_is_refused(level: float) -> None:
    with pytest.raises(OutOfDomain, match="service_level"):
        service_factor(level)


def test_deviation_is_that_of_a_sample() -> None:
    # ISO 3534-1: divisor n - 1. 0 and 10: mean 5, deviation sqrt(50).
    found = daily_demand([0, 10])
    assert found.mean == 5
    assert found.deviation == pytest.approx(math.sqrt(50))


@pytest.mark.parametrize("history", [[], [5.0], [1.0, -1.0]])
def test_history_that_is_too_short_or_negative_is_refused(history: list[float]) -> None:
    with pytest.raises(OutOfDomain):
        daily_demand(history)


@pytest.mark.parametrize(
    ("demand", "lead", "lead_deviation", "z"),
    [
        (DailyDemand(-1, 0), 1, 0, 1),
        (DailyDemand(1, -1), 1, 0, 1),
        (DailyDemand(1, 0), -1, 0, 1),
        (DailyDemand(1, 0), 1, -1, 1),
        (DailyDemand(1, 0), 1, 0, -1),
    ],
)
def test_negative_figures_are_refused(
    demand: DailyDemand, lead: float, lead_deviation: float, z: float
) -> None:
    with pytest.raises(OutOfDomain):
        reorder_point(demand, lead, z, lead_time_deviation_days=lead_deviation)


def test_delivery_at_once_needs_stock_only_for_late_deliveries() -> None:
    assert reorder_point(DailyDemand(10, 4), 0, 1.65) == 0
    assert reorder_point(DailyDemand(10, 4), 0, 1.65, lead_time_deviation_days=2) == pytest.approx(33)


def test_known_needs_are_projected_day_by_day() -> None:
    # Requirements of 60 on days 1, 2, 4, 5 of every 7, stock 700, safety stock 100; computed by hand:
    # days 15 to 17 end with 160, 100, 100 and day 18 is the first below 100 (40). With 6 days of lead time
    # the order goes out on day 12.
    start = date(2026, 3, 1)
    needs = {date(2026, 3, day): 60.0 for day in range(1, 29) if (day - 1) % 7 + 1 in {1, 2, 4, 5}}
    balances = projected_balance(700, start, 28, out=needs)
    assert balances[14:18] == [160, 100, 100, 40]
    assert first_day_below(balances, start, 100) == date(2026, 3, 18)


def test_what_arrives_counts_from_its_day() -> None:
    start = date(2026, 3, 1)
    balances = projected_balance(10, start, 3, out={start: 8}, arriving={date(2026, 3, 2): 20.0})
    assert balances == [2, 22, 22]
    assert first_day_below(balances, start, 0) is None


@given(st.floats(0, 1e6), st.floats(0, 1e6), st.floats(0, 60), st.floats(0, 3))
def test_more_demand_never_lowers_the_reorder_point(mean: float, more: float, lead: float, z: float) -> None:
    assert reorder_point(DailyDemand(mean + more, 1), lead, z) >= reorder_point(DailyDemand(mean, 1), lead, z)


@pytest.mark.parametrize(("wanted", "packs"), [(-1, 0), (0, 0), (1, 1), (500, 1), (501, 2)])
def test_packs_are_whole_and_enough(wanted: float, packs: int) -> None:
    assert packs_needed(wanted, 500) == packs


def test_a_pack_of_nothing_is_refused() -> None:
    with pytest.raises(OutOfDomain):
        packs_needed(1, 0)
