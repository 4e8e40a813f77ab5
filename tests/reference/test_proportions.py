"""Intervals of shares against papers, handbooks, and what R and general libraries print."""

import pytest
from statsmodels.stats.proportion import confint_proportions_2indep

from service.science.outcomes import Trial, delta_interval
from service.science.proportions import (
    exact_interval,
    risk_ratio,
    share_difference,
    wilson_interval,
)
from tests.reference.outside import Kind, outside

NEWCOMBE = outside(Kind.MEMORY, "Newcombe 1998, Stat. Med. 17, 857-872, table I, four decimals")
NEWCOMBE_DIFFERENCE = outside(Kind.MEMORY, "Newcombe 1998, Stat. Med. 17, 873-890, table II, method 10")
R_BINOM = outside(Kind.LIBRARY, "R package binom, in the tests of statsmodels")
R_BINOM_TEST = outside(Kind.LIBRARY, "R binom.test, in the tests of SciPy")
R_PROP_TEST = outside(Kind.LIBRARY, "R prop.test without continuity correction, in the tests of SciPy")
FAGERLAND = outside(Kind.PAPER, "Fagerland, Lydersen and Laake 2015, Stat. Methods Med. Res. 24, 224-254")


@pytest.mark.parametrize(
    ("count", "total", "confidence", "low", "high", "digits"),
    [
        pytest.param(81, 263, 0.95, 0.2553, 0.3662, 5.1e-5, marks=NEWCOMBE),
        pytest.param(15, 148, 0.95, 0.0624, 0.1605, 5.1e-5, marks=NEWCOMBE),
        pytest.param(0, 20, 0.95, 0.0, 0.1611, 5.1e-5, marks=NEWCOMBE),
        pytest.param(1, 29, 0.95, 0.0061, 0.1718, 5.1e-5, marks=NEWCOMBE),
        pytest.param(18, 20, 0.95, 0.698966355, 0.972133519, 6e-8, marks=R_BINOM),
        pytest.param(4, 20, 0.95, 0.080657663, 0.416017432, 6e-8, marks=R_BINOM),
        pytest.param(4, 200, 0.95, 0.007804426, 0.050287087, 6e-8, marks=R_BINOM),
        pytest.param(190, 200, 0.95, 0.910421852, 0.972617354, 6e-8, marks=R_BINOM),
        pytest.param(1, 30, 0.95, 0.00590859, 0.16670391, 6e-8, marks=R_BINOM),
        pytest.param(29, 30, 0.95, 0.8332961, 0.9940914, 6e-8, marks=R_BINOM),
        pytest.param(0, 30, 0.95, 0.0, 0.11351339, 6e-8, marks=R_BINOM),
        pytest.param(30, 30, 0.95, 0.8864866, 1.0, 6e-8, marks=R_BINOM),
        pytest.param(3, 10, 0.95, 0.1077913, 0.6032219, 6e-8, marks=R_PROP_TEST),
        pytest.param(3, 10, 0.99, 0.07956632, 0.6799753, 6e-8, marks=R_PROP_TEST),
        pytest.param(0, 10, 0.95, 0.0, 0.2775328, 6e-8, marks=R_PROP_TEST),
        pytest.param(10, 10, 0.95, 0.7224672, 1.0, 6e-8, marks=R_PROP_TEST),
    ],
)
def test_wilson_intervals(
    count: int, total: int, confidence: float, low: float, high: float, digits: float
) -> None:
    found = wilson_interval(count, total, confidence)
    assert (found.low, found.high) == pytest.approx((low, high), abs=digits)


@pytest.mark.parametrize(
    ("count", "total", "confidence", "low", "high", "digits"),
    [
        pytest.param(81, 263, 0.95, 0.2527, 0.3676, 5.1e-5, marks=NEWCOMBE),
        pytest.param(15, 148, 0.95, 0.0578, 0.1617, 5.1e-5, marks=NEWCOMBE),
        pytest.param(0, 20, 0.95, 0.0, 0.1684, 5.1e-5, marks=NEWCOMBE),
        pytest.param(1, 29, 0.95, 0.0009, 0.1776, 5.1e-5, marks=NEWCOMBE),
        pytest.param(18, 20, 0.95, 0.683017286, 0.987651473, 1e-8, marks=R_BINOM),
        pytest.param(4, 20, 0.95, 0.057333997, 0.436614003, 1e-8, marks=R_BINOM),
        pytest.param(4, 200, 0.95, 0.005475566, 0.050413609, 1e-8, marks=R_BINOM),
        pytest.param(190, 200, 0.95, 0.909972462, 0.975765835, 1e-8, marks=R_BINOM),
        pytest.param(1, 30, 0.95, 0.000843571, 0.17216946, 1e-8, marks=R_BINOM),
        pytest.param(29, 30, 0.95, 0.8278305, 0.9991564, 6e-8, marks=R_BINOM),
        pytest.param(0, 30, 0.95, 0.0, 0.11570331, 1e-8, marks=R_BINOM),
        pytest.param(30, 30, 0.95, 0.8842967, 1.0, 6e-8, marks=R_BINOM),
        pytest.param(20, 100, 0.95, 0.1266555521019559, 0.2918426890886281, 1e-14, marks=R_BINOM_TEST),
        pytest.param(3, 50, 0.99, 0.006872485, 0.202706269, 1e-9, marks=R_BINOM_TEST),
        pytest.param(0, 10, 0.95, 0.0, 0.3084971, 6e-8, marks=R_BINOM_TEST),
        pytest.param(10, 10, 0.95, 0.6915029, 1.0, 6e-8, marks=R_BINOM_TEST),
    ],
)
def test_exact_intervals(
    count: int, total: int, confidence: float, low: float, high: float, digits: float
) -> None:
    found = exact_interval(count, total, confidence)
    assert (found.low, found.high) == pytest.approx((low, high), abs=digits)


@outside(
    Kind.MEMORY, "NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.2: 4 of 20, 90 %, printed 0.401029"
)
def test_disagreement_the_nist_handbook_rounds_its_upper_limit_in_the_last_digit() -> None:
    found = exact_interval(4, 20, 0.90)
    assert found.low == pytest.approx(0.071354, abs=5.1e-7)
    assert found.high == pytest.approx(0.401029, abs=1.1e-6)
    assert round(found.high, 6) == 0.401028


@pytest.mark.parametrize(
    ("table", "low", "high", "digits"),
    [
        pytest.param(
            (7, 34, 1, 34),
            1.220853,
            42.575718,
            6e-7,
            marks=outside(Kind.LIBRARY, "R package PropCIs, riskscoreci, in the tests of statsmodels"),
        ),
        pytest.param((7, 34, 1, 34), 1.21, 43, 0.5, marks=FAGERLAND),
        pytest.param(
            (36, 40, 16, 80),
            2.94,
            7.15,
            0.0051,
            marks=outside(Kind.MEMORY, "Koopman 1984, Biometrics 40, 513"),
        ),
    ],
)
def test_score_intervals_of_a_risk_ratio(
    table: tuple[int, int, int, int], low: float, high: float, digits: float
) -> None:
    found = risk_ratio(*table, 0.95)
    assert found.low == pytest.approx(low, abs=min(digits, 0.011))
    assert found.high == pytest.approx(high, abs=digits)


@outside(Kind.LIBRARY, "statsmodels, confint_proportions_2indep, method score without correction")
@pytest.mark.parametrize(
    "table", [(3, 60, 14, 60), (9, 40, 3, 40), (56, 70, 48, 80), (2, 15, 11, 18), (1, 400, 9, 300)]
)
def test_score_intervals_are_those_of_statsmodels(table: tuple[int, int, int, int]) -> None:
    low, high = confint_proportions_2indep(*table, method="score", compare="ratio", correction=False)
    found = risk_ratio(*table, 0.95)
    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-6)


@pytest.mark.parametrize(
    ("table", "ratio", "low", "high"),
    [
        pytest.param(
            (10, 75, 12, 225),
            2.5,
            1.1261564003469628,
            5.549850800541033,
            marks=outside(Kind.WORKED, "SciPy, RelativeRiskResult.confidence_interval"),
        ),
        pytest.param(
            (27, 122, 44, 487),
            2.4495156482861398,
            1.5836990926700116,
            3.7886786315466354,
            marks=outside(Kind.MEMORY, "SciPy, scipy.stats.contingency.relative_risk"),
        ),
        pytest.param(
            (16, 128, 24, 256),
            4 / 3,
            0.7347317,
            2.419628,
            marks=outside(Kind.LIBRARY, "R package epitools, riskratio, in the tests of SciPy"),
        ),
    ],
)
def test_log_intervals_of_a_risk_ratio(
    table: tuple[int, int, int, int], ratio: float, low: float, high: float
) -> None:
    first, first_total, second, second_total = table
    # What is left of followed units is a risk ratio, so the efficacy is one less it.
    found = delta_interval(Trial(first_total, first, second_total, second, followed=True))
    assert 1 - found.estimate == pytest.approx(ratio)
    assert (1 - found.high, 1 - found.low) == pytest.approx((low, high), rel=5e-7)


@pytest.mark.parametrize(
    ("table", "low", "high", "digits"),
    [
        pytest.param((7, 34, 1, 34), 0.019, 0.34, 0.00051, marks=FAGERLAND),
        pytest.param((56, 70, 48, 80), 0.0524, 0.3339, 5.1e-5, marks=NEWCOMBE_DIFFERENCE),
        pytest.param((9, 10, 3, 10), 0.1705, 0.8090, 5.1e-5, marks=NEWCOMBE_DIFFERENCE),
        pytest.param((6, 7, 2, 7), 0.0582, 0.8062, 5.1e-5, marks=NEWCOMBE_DIFFERENCE),
        pytest.param((5, 56, 0, 29), -0.0381, 0.1926, 5.1e-5, marks=NEWCOMBE_DIFFERENCE),
        pytest.param((0, 10, 0, 20), -0.1611, 0.2775, 5.1e-5, marks=NEWCOMBE_DIFFERENCE),
        pytest.param((0, 10, 0, 10), -0.2775, 0.2775, 5.1e-5, marks=NEWCOMBE_DIFFERENCE),
        pytest.param((10, 10, 0, 20), 0.6791, 1.0, 5.1e-5, marks=NEWCOMBE_DIFFERENCE),
        pytest.param((10, 10, 0, 10), 0.6075, 1.0, 5.1e-5, marks=NEWCOMBE_DIFFERENCE),
    ],
)
def test_differences_of_two_shares(
    table: tuple[int, int, int, int], low: float, high: float, digits: float
) -> None:
    found = share_difference(*table)
    assert (found.low, found.high) == pytest.approx((low, high), abs=digits)
