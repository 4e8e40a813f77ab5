"""Reorder points, quantiles of demand, and projected balances."""

import math
from collections.abc import Callable
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.demand import (
    DailyDemand,
    daily_demand,
    fill_rate,
    first_day_below,
    loss,
    negative_binomial_quantile,
    normal_quantile,
    order_up_to_level,
    packs_needed,
    poisson_quantile,
    projected_balance,
    reorder_point,
    safety_stock,
    service_factor,
)
from service.science.domain import OutOfDomain


def test_safety_stock_covers_demand_and_delivery_together() -> None:
    # By hand: 2 sqrt(9 x 4^2 + 5^2 x 1^2) = 26, above 5 x 9.
    assert safety_stock(DailyDemand(5, 4), 9, 2, lead_time_deviation_days=1) == pytest.approx(26)
    assert reorder_point(DailyDemand(5, 4), 9, 2, lead_time_deviation_days=1) == pytest.approx(71)


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


def test_periodic_review_adds_its_days_to_the_lead_time() -> None:
    demand = DailyDemand(5, 4)
    level = order_up_to_level(demand, 6, 3, 2, lead_time_deviation_days=1)
    assert level == reorder_point(demand, 9, 2, lead_time_deviation_days=1)
    assert order_up_to_level(demand, 9, 0, 2) == reorder_point(demand, 9, 2)


@pytest.mark.parametrize(("lead", "review", "parameter"), [(-1, 3, "lead_time_days"), (3, -1, "review_days")])
def test_negative_days_of_lead_or_review_are_refused(lead: float, review: float, parameter: str) -> None:
    with pytest.raises(OutOfDomain) as refusal:
        order_up_to_level(DailyDemand(1, 1), lead, review, 1)
    assert refusal.value.parameter == parameter


def test_a_lead_time_without_demand_needs_nothing() -> None:
    assert poisson_quantile(0, 0.999) == 0


def test_a_level_that_is_reached_exactly_is_enough() -> None:
    # P(0) of mean ln 2 is one half; a negative binomial of size 1 and chance 1/2 has P(0) = 0.5, P(1) = 0.75.
    assert poisson_quantile(math.log(2), 0.5 - 1e-12) == 0
    assert poisson_quantile(math.log(2), 0.5 + 1e-12) == 1
    assert negative_binomial_quantile(1, 2, 0.75 - 1e-12) == 1
    assert negative_binomial_quantile(1, 2, 0.75 + 1e-12) == 2


@pytest.mark.parametrize(
    "variance", [math.nextafter(2.8, 3), 2.8 + 1e-15, 2.8 + 1e-12, 2.8 + 1e-8, 2.8 + 1e-6]
)
def test_a_variance_a_rounding_step_above_the_mean_is_poissons(variance: float) -> None:
    # Poisson with mean 2.8: 6 cover 95 % (cumulated 0.975589 by SciPy).
    assert negative_binomial_quantile(2.8, variance, 0.95) == 6


def test_the_normal_quantile_ends_at_even_chances() -> None:
    assert normal_quantile(350, 0, 0.95) == 350
    with pytest.raises(OutOfDomain, match="service_level"):
        normal_quantile(350, 40, 0.5)


@pytest.mark.parametrize(
    ("parameter", "refused"),
    [
        ("mean", lambda: poisson_quantile(-0.1, 0.9)),
        ("mean", lambda: poisson_quantile(1_000_000_001, 0.9)),
        ("service_level", lambda: poisson_quantile(1, 0)),
        ("service_level", lambda: poisson_quantile(1, 1)),
        ("mean", lambda: negative_binomial_quantile(0, 1, 0.9)),
        ("mean", lambda: negative_binomial_quantile(1_000_000_001, 2e9, 0.9)),
        ("variance", lambda: negative_binomial_quantile(1, math.inf, 0.9)),
        ("variance", lambda: negative_binomial_quantile(6, 6, 0.9)),
        ("variance", lambda: negative_binomial_quantile(6, 5, 0.9)),
        ("service_level", lambda: negative_binomial_quantile(6, 15, 1)),
        ("mean", lambda: normal_quantile(-1, 1, 0.9)),
        ("deviation", lambda: normal_quantile(1, -1, 0.9)),
        ("deviation", lambda: fill_rate(-1, 1, 10)),
        ("order_quantity", lambda: fill_rate(1, 1, 0)),
    ],
)
def test_figures_that_make_no_quantile_are_refused(parameter: str, refused: Callable[[], object]) -> None:
    with pytest.raises(OutOfDomain) as refusal:
        refused()
    assert refusal.value.parameter == parameter


@given(st.floats(0.01, 500), st.floats(1.01, 20), st.floats(0.01, 0.999))
def test_more_service_never_needs_less(mean: float, times: float, level: float) -> None:
    units = negative_binomial_quantile(mean, mean * times, level)
    assert units >= 0
    assert negative_binomial_quantile(mean, mean * times, (1 + level) / 2) >= units
    assert poisson_quantile(mean, (1 + level) / 2) >= poisson_quantile(mean, level)


@given(st.floats(-3, 4))
def test_the_loss_falls_and_mirrors(z: float) -> None:
    assert loss(z + 0.1) < loss(z)
    assert loss(-z) == pytest.approx(loss(z) + z)


def test_the_fill_rate_is_what_is_not_lost() -> None:
    assert fill_rate(15, 0, 200) == pytest.approx(1 - 15 * 0.3989422804 / 200)
    assert fill_rate(0, 1, 200) == 1
    assert fill_rate(1000, 0, 1) == 0
