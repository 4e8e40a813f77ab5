"""Degree-days of a day and of a log against published tables, other rules of reckoning, and quadrature."""

import math

import pytest
from scipy import integrate, optimize

from service.science.arrays import sine_degree_days
from service.science.curve import curve
from service.science.development import Reading, degree_days, reached_at
from service.science.thermal import rate, single_sine_degree_days
from tests.reference.outside import Kind, outside
from tests.science.logs import PLANARIAN, POND, START, day, days_after

# Lowest and highest of the day, degree-days: one block for each of the six ways a day can lie to both limits.
CALCULATOR = """
34 47  0.00   36 48  0.00   39 49  0.00
41 50  0.00   38 55  1.19   36 67  5.71   33 59  2.34   37 59  2.56   30 53  0.47   31 51  0.10
46 69  8.22   29 63  3.56   43 53  0.72   49 70  9.59   48 70  9.26   33 69  6.24   29 64  3.93
54 67 10.50   50 64  7.00   50 69  9.50   52 69 10.50   51 63  7.00   50 70 10.00
52 73 12.01   53 71 11.90   59 84 16.74   54 90 15.24   50 72 10.74   66 100 19.41  68 107 19.81
69 97 19.92   51 93 14.29   52 97 14.94   57 72 14.19
71 103 20.00  71 102 20.00  71 97 20.00   72 95 20.00
44 76 10.00   40 74  8.79   46 81 11.37   41 80 10.17   49 90 13.29   36 76  8.65   46 71  9.11
"""
NUMBERS = [float(number) for number in CALCULATOR.split()]
DAYS_F = list(zip(NUMBERS[::3], NUMBERS[1::3], NUMBERS[2::3], strict=True))


@outside(
    Kind.TABLE,
    "UC Statewide IPM Program, degree-day calculator, single sine with horizontal cutoff, 50/70 °F, "
    "Esparto.A 2020: the answers of the degree-day validation challenge of UC ANR",
)
@pytest.mark.parametrize(("minimum", "maximum", "expected"), DAYS_F)
def test_a_day_is_that_of_the_calculator(minimum: float, maximum: float, expected: float) -> None:
    assert single_sine_degree_days(minimum, maximum, 50, 70) == pytest.approx(expected, abs=5.1e-3)


@outside(
    Kind.TABLE,
    "UC Statewide IPM Program, degree-day calculator, single sine, Ojai 2016 at 12 °C (upper limit 33 °C), "
    "as printed in the tests of the R package TrenchR",
)
@pytest.mark.parametrize(
    ("minimum", "maximum", "expected"),
    [
        (7.8, 19.4, 2.72),
        (3.3, 18.9, 2.05),
        (1.1, 16.1, 0.94),
        (18.3, 28.9, 11.60),
        (10.6, 32.2, 9.55),
        (12.2, 27.2, 7.70),
        (10.6, 34.4, 10.50),
        (11.7, 33.9, 10.74),
        (10.6, 38.9, 11.71),
        (13.9, 36.1, 12.50),
        (15.0, 37.2, 13.31),
        (14.4, 39.4, 13.49),
    ],
)
def test_a_day_in_celsius_is_that_of_the_calculator(minimum: float, maximum: float, expected: float) -> None:
    assert sine_degree_days(minimum, maximum, 12, 33) == pytest.approx(expected, abs=5.1e-3)


@outside(
    Kind.WORKED, "UC Statewide IPM Program, figure on a simple way to calculate degree-days: 64 - 53 = 11"
)
def test_a_day_above_the_threshold_is_its_average() -> None:
    assert single_sine_degree_days(54, 74, 53) == 11


QUARTERS = outside(Kind.PAPER, "Met Éireann, degree-days above a base temperature, cases I to IV")


def by_quarters(minimum: float, maximum: float, base: float) -> float:
    mean = (minimum + maximum) / 2
    if minimum >= base:
        return mean - base
    if maximum <= base:
        return 0.0
    if mean >= base:
        return (maximum - base) / 2 - (base - minimum) / 4
    return (maximum - base) / 4


@QUARTERS
@pytest.mark.parametrize(("minimum", "maximum"), [(18, 24), (9, 21), (2, 8), (3, 9)])
def test_the_rule_of_quarters_agrees_when_the_day_stays_on_one_side(minimum: float, maximum: float) -> None:
    assert single_sine_degree_days(minimum, maximum, 9) == by_quarters(minimum, maximum, 9)


@QUARTERS
@pytest.mark.parametrize(
    ("minimum", "maximum", "quarters", "sine"),
    [
        (6, 16, 2.75, 2.7207),  # quarters give 1 % more
        (4, 10, 0.25, 0.1763),  # 42 % more, but 0.07 of a degree-day
        (4, 14, 1.25, 1.5915),  # 21 % less
    ],
)
def test_the_rule_of_quarters_disagrees_when_the_day_crosses_the_threshold(
    minimum: float, maximum: float, quarters: float, sine: float
) -> None:
    assert by_quarters(minimum, maximum, 9) == quarters
    assert single_sine_degree_days(minimum, maximum, 9) == pytest.approx(sine, abs=5e-5)
    # For a sine the closed form is the integral: the rule is the approximation.
    assert integral(minimum, maximum, 9, math.inf) == pytest.approx(sine, abs=5e-5)


def integral(minimum: float, maximum: float, threshold: float, optimum: float) -> float:
    """The day from its lowest to its highest, cut at both limits; the other half is its mirror."""
    mean, swing = (minimum + maximum) / 2, (maximum - minimum) / 2

    def credit(turn: float) -> float:
        celsius = mean - swing * math.cos(math.pi * turn)
        return min(max(celsius - threshold, 0.0), optimum - threshold)

    bends = [
        math.acos((mean - limit) / swing) / math.pi
        for limit in (threshold, optimum)
        if minimum < limit < maximum
    ]
    found, _ = integrate.quad(credit, 0, 1, points=bends or None, epsabs=1e-12)
    return float(found)


@outside(Kind.LIBRARY, "scipy.integrate.quad")
@pytest.mark.parametrize("threshold", [9.0, 11.0, 2.0])
@pytest.mark.parametrize(
    ("minimum", "maximum"),
    [(18, 24), (6, 16), (4, 10), (0, 1.5), (20, 34), (24, 32), (29, 33), (5, 31), (9, 28), (10.9, 28.1)],
)
def test_a_day_is_the_integral_of_its_sine(minimum: float, maximum: float, threshold: float) -> None:
    found = single_sine_degree_days(minimum, maximum, threshold, 28)
    assert found == pytest.approx(integral(minimum, maximum, threshold, 28), abs=1e-9)


COURSES = [(7.0, 11.0), (26.0, 30.0), (32.0, 36.0), (5.0, 36.0), (36.0, 5.0), (12.0, 21.0), (0.0, 9.0)]


@outside(Kind.LIBRARY, "scipy.integrate.quad")
@pytest.mark.parametrize("pest", [POND, PLANARIAN], ids=lambda pest: pest.code)
@pytest.mark.parametrize(("former", "latter"), COURSES)
def test_a_straight_course_is_the_integral_of_its_rate(former: float, latter: float, pest: object) -> None:
    development = POND if pest is POND else PLANARIAN
    log = [Reading(START, former), Reading(day(0.25), latter)]
    limits = (development.lower_threshold_c, development.optimum_c, development.maximum_c)
    bends = [0.25 * (limit - former) / (latter - former) for limit in limits]
    expected, _ = integrate.quad(
        lambda days: rate(former + (latter - former) * days / 0.25, development),
        0,
        0.25,
        points=[bend for bend in bends if 0 < bend < 0.25] or None,
    )
    assert degree_days(log, START, day(0.25), development) == pytest.approx(expected, abs=1e-7)
    assert curve(log, START, day(1), development).at(day(1)) == pytest.approx(expected, abs=1e-7)


@outside(Kind.LIBRARY, "scipy.optimize.brentq over the integral of the rate")
@pytest.mark.parametrize("share", [0.05, 0.3, 0.6, 0.95])
def test_the_moment_reached_is_the_root_of_the_integral(share: float) -> None:
    log = [Reading(START, 12.0), Reading(day(0.25), 24.0)]
    needed = share * 0.25 * 9

    def missing(days: float) -> float:
        gathered, _ = integrate.quad(lambda x: 3 + 48 * x, 0, days)
        return float(gathered) - needed

    root = optimize.brentq(missing, 0, 0.25, xtol=1e-12)
    assert days_after(reached_at(log, START, needed, POND)) == pytest.approx(root, abs=1e-9)
    assert days_after(curve(log, START, day(1), POND).reached_at(needed)) == pytest.approx(root, abs=1e-9)
