"""Reorder points, order quantities and forecasts against worked examples of textbooks and libraries."""

import math

import pytest
from scipy import stats

from service.science.demand import (
    DailyDemand,
    loss,
    negative_binomial_quantile,
    normal_quantile,
    poisson_quantile,
    reorder_point,
    safety_stock,
    service_factor,
)
from service.science.intermittent import croston, smoothed
from service.science.order_quantity import Costs, cost_per_year, economic_order_quantity
from tests.reference.outside import Kind, outside

STEVENSON = outside(Kind.WORKED, "Stevenson, Operations Management, 14th ed., ch. 12, example 8")
HEIZER = outside(Kind.MEMORY, "Heizer and Render, Operations Management, inventory chapter")
HEIZER_LECTURE = outside(Kind.WORKED, "lecture sheet after Heizer and Render, Operations Management")
HYNDMAN = outside(
    Kind.MEMORY, "Hyndman and Athanasopoulos, Forecasting: Principles and Practice, 2nd ed., 12.2"
)
NORMAL = outside(Kind.TABLE, "printed in every table of the normal distribution")


@STEVENSON
def test_stevenson_safety_stock_of_nine_point_four_tons() -> None:
    assert safety_stock(DailyDemand(50, 5), 1, 1.88) == pytest.approx(9.40)


@STEVENSON
def test_stevenson_reorder_point_of_59_point_4_tons() -> None:
    assert reorder_point(DailyDemand(50, 5), 1, 1.88) == pytest.approx(59.40)


@STEVENSON
def test_stevenson_z_of_a_risk_of_three_per_cent() -> None:
    assert service_factor(0.97) == pytest.approx(1.88, abs=0.005)


@pytest.mark.parametrize(
    ("demand", "lead", "lead_deviation", "z", "expected"),
    [
        pytest.param(
            DailyDemand(30, 5),
            10,
            0,
            1.65,
            326.1,
            marks=outside(Kind.MEMORY, "Taylor, Introduction to Management Science: the carpet store"),
        ),
        pytest.param(
            DailyDemand(30, 5),
            10,
            3,
            1.65,
            450.8,
            marks=outside(
                Kind.MEMORY, "Taylor, Introduction to Management Science: delivery varies by 3 days"
            ),
        ),
        pytest.param(
            DailyDemand(12_500, 0),
            4,
            1,
            1.88,
            73_500,
            marks=outside(Kind.WORKED, "worksheet: 12 500 a day, lead time 4 give or take 1, 97 % service"),
        ),
        pytest.param(DailyDemand(150, 16), 5, 1, 1.65, 1004.4, marks=HEIZER),
        pytest.param(DailyDemand(10, 0), 6, 1, 2.055, 80.55, marks=HEIZER),
    ],
)
def test_reorder_points(
    demand: DailyDemand, lead: float, lead_deviation: float, z: float, expected: float
) -> None:
    found = reorder_point(demand, lead, z, lead_time_deviation_days=lead_deviation)
    assert found == pytest.approx(expected, abs=0.05)


@outside(Kind.WORKED, "a web example prints 1 042: it rounds the deviation of 206.88 up to 207")
def test_disagreement_a_web_example_rounds_its_deviation_up() -> None:
    found = reorder_point(DailyDemand(100, 20), 7, 1.65, lead_time_deviation_days=2)
    assert math.ceil(700 + 1.65 * 207) == 1042
    assert found == pytest.approx(1042, abs=1)
    assert found < 700 + 1.65 * 207


@NORMAL
@pytest.mark.parametrize(
    ("level", "z"),
    [(0.90, 1.2815516), (0.95, 1.6448536), (0.975, 1.9599640), (0.98, 2.0537489), (0.99, 2.3263479)],
)
def test_factors_of_a_service_level(level: float, z: float) -> None:
    assert service_factor(level) == pytest.approx(z, abs=5.1e-8)


@outside(Kind.MEMORY, "unit normal loss table, in textbooks of inventory (Nahmias; Silver, Pyke and Thomas)")
@pytest.mark.parametrize(
    ("z", "expected"),
    [
        (0.0, 0.3989),
        (0.5, 0.1978),
        (1.0, 0.0833),
        (1.5, 0.0293),
        (1.645, 0.0209),
        (2.0, 0.0085),
        (3.0, 0.0004),
    ],
)
def test_the_loss_table(z: float, expected: float) -> None:
    assert loss(z) == pytest.approx(expected, abs=5.1e-5)


@outside(Kind.LIBRARY, "scipy.stats.norm, expected excess by integration")
@pytest.mark.parametrize("z", [-1.0, 0.3, 1.2, 2.5])
def test_the_loss_is_the_expected_excess(z: float) -> None:
    expected = stats.norm.expect(lambda x: x - z, lb=z, ub=12)
    assert loss(z) == pytest.approx(expected, rel=1e-6)


@outside(Kind.LIBRARY, "scipy.stats.poisson.ppf")
@pytest.mark.parametrize("mean", [0.05, 0.5, 2.8, 17.0, 400.0])
@pytest.mark.parametrize("level", [0.5, 0.95, 0.999])
def test_quantiles_of_single_units(mean: float, level: float) -> None:
    assert poisson_quantile(mean, level) == stats.poisson.ppf(level, mean)


@outside(Kind.LIBRARY, "scipy.stats.nbinom.ppf")
@pytest.mark.parametrize(("mean", "variance"), [(6, 15), (0.4, 0.9), (2.5, 40.0), (80, 81)])
@pytest.mark.parametrize("level", [0.5, 0.95, 0.999])
def test_quantiles_of_lumpy_demand(mean: float, variance: float, level: float) -> None:
    size = mean**2 / (variance - mean)
    assert negative_binomial_quantile(mean, variance, level) == stats.nbinom.ppf(level, size, mean / variance)


@outside(Kind.LIBRARY, "scipy.stats.norm.ppf")
@pytest.mark.parametrize("level", [0.9, 0.95, 0.999])
def test_quantiles_of_much_demand(level: float) -> None:
    assert normal_quantile(350, 40, level) == pytest.approx(stats.norm.ppf(level, 350, 40))


@pytest.mark.parametrize(
    ("costs", "quantity"),
    [
        pytest.param(Costs(1000, 10, 0.5), 200, marks=HEIZER_LECTURE),
        pytest.param(
            Costs(10_000, 150, 0.75),
            2000,
            marks=outside(Kind.MEMORY, "Taylor, Introduction to Management Science: carpet, EOQ"),
        ),
        pytest.param(Costs(5000, 10, 1), 316.2278, marks=outside(Kind.WORKED, "lecture notes on the EOQ")),
        pytest.param(
            Costs(60 * 52, 12, 0.25 * 0.02),
            3870,
            marks=outside(Kind.MEMORY, "Nahmias, Production and Operations Analysis, example 4.1: pencils"),
        ),
    ],
)
def test_order_quantities(costs: Costs, quantity: float) -> None:
    assert economic_order_quantity(costs) == pytest.approx(quantity, rel=4e-5)


@HEIZER_LECTURE
def test_orders_in_a_year() -> None:
    assert 1000 / economic_order_quantity(Costs(1000, 10, 0.5)) == pytest.approx(5)


@HEIZER_LECTURE
def test_working_days_between_orders() -> None:
    assert 250 / (1000 / economic_order_quantity(Costs(1000, 10, 0.5))) == pytest.approx(50)


@HEIZER_LECTURE
def test_cost_of_a_year() -> None:
    costs = Costs(1000, 10, 0.5)
    assert cost_per_year(costs, economic_order_quantity(costs)) == pytest.approx(100)


@outside(Kind.MEMORY, "Taylor, Introduction to Management Science: carpet, yearly cost of 1 500")
def test_cost_of_a_year_of_carpet() -> None:
    assert cost_per_year(Costs(10_000, 150, 0.75), 2000) == pytest.approx(1500)


@outside(Kind.MEMORY, "Nahmias, Production and Operations Analysis, example 4.1: T = 1.24 years")
def test_years_between_orders_of_pencils() -> None:
    costs = Costs(60 * 52, 12, 0.25 * 0.02)
    assert economic_order_quantity(costs) / costs.demand_per_year == pytest.approx(1.24, abs=0.0051)


# Monthly sales of a lubricant over three years; the data are printed in the book.
LUBRICANT = [0, 2, 0, 1, 0, 11, 0, 0, 0, 0, 2, 0]
LUBRICANT += [6, 3, 0, 0, 0, 0, 0, 7, 0, 0, 0, 0]
LUBRICANT += [0, 0, 0, 3, 1, 0, 0, 1, 0, 1, 0, 0]


@HYNDMAN
def test_the_size_of_a_demand_of_lubricant() -> None:
    assert smoothed(LUBRICANT, 0.1).size == pytest.approx(2.750, abs=5.1e-4)


@HYNDMAN
def test_the_interval_of_a_demand_of_lubricant() -> None:
    assert smoothed(LUBRICANT, 0.1).interval == pytest.approx(2.793, abs=5.1e-4)


@HYNDMAN
def test_the_forecast_of_lubricant() -> None:
    assert croston(smoothed(LUBRICANT, 0.1)) == pytest.approx(0.985, abs=5.1e-4)
