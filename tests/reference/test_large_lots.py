"""Plans for large lots against worked examples of epidemiology packages, and SciPy's distributions."""

from decimal import Decimal
from itertools import product

import pytest
from scipy import stats

from service.science.large_lots import (
    beta_binomial_miss,
    beta_binomial_sample_size,
    binomial_miss,
    binomial_sample_size,
    poisson_sample_size,
)
from tests.reference.outside import Kind, outside

C95 = Decimal("0.95")
SCIPY = outside(Kind.LIBRARY, "scipy.stats")
EPIR_VIGNETTE = outside(Kind.WORKED, "R package epiR, vignette on surveillance")
SURVEY_TESTS = outside(Kind.WORKED, "R package RSurveillance, its published tests")


@pytest.mark.parametrize(
    ("level", "sensitivity", "published"),
    [
        pytest.param("0.05", 0.9, 66, marks=EPIR_VIGNETTE),
        pytest.param("0.01", 0.9, 332, marks=SURVEY_TESTS),
        pytest.param("0.01", 0.91, 328, marks=SURVEY_TESTS),
        pytest.param("0.02", 0.91, 164, marks=SURVEY_TESTS),
        pytest.param("0.05", 0.91, 65, marks=SURVEY_TESTS),
        pytest.param("0.1", 0.91, 32, marks=SURVEY_TESTS),
        pytest.param("0.2", 0.91, 15, marks=SURVEY_TESTS),
    ],
)
def test_plans_for_a_lot_of_unknown_size(level: str, sensitivity: float, published: int) -> None:
    assert binomial_sample_size(Decimal(level), C95, sensitivity) == published


@pytest.mark.parametrize(
    ("level", "size", "sensitivity", "found"),
    [
        pytest.param("0.01", 300, 0.95, 0.9429384, marks=EPIR_VIGNETTE),
        pytest.param("0.05", 10, 0.9, 0.3689937, marks=SURVEY_TESTS),
        pytest.param("0.05", 50, 0.9, 0.8999612, marks=SURVEY_TESTS),
        pytest.param("0.05", 100, 0.9, 0.9899922, marks=SURVEY_TESTS),
    ],
)
def test_what_a_look_at_a_lot_of_unknown_size_finds(
    level: str, size: int, sensitivity: float, found: float
) -> None:
    assert 1 - binomial_miss(Decimal(level), size, sensitivity) == pytest.approx(found, abs=6e-8)


@SCIPY
@pytest.mark.parametrize(("level", "sensitivity"), list(product(("0.3", "0.05", "0.002"), (1.0, 0.6))))
def test_large_lots_are_binom(level: str, sensitivity: float) -> None:
    size = binomial_sample_size(Decimal(level), C95, sensitivity)
    found = float(level) * sensitivity
    assert stats.binom.pmf(0, size, found) <= 0.05 < stats.binom.pmf(0, size - 1, found)
    assert binomial_miss(Decimal(level), size, sensitivity) == pytest.approx(stats.binom.pmf(0, size, found))


@SCIPY
@pytest.mark.parametrize(("level", "sensitivity"), list(product(("0.3", "0.05", "0.002"), (1.0, 0.6))))
def test_rare_finds_are_poisson(level: str, sensitivity: float) -> None:
    size = poisson_sample_size(Decimal(level), C95, sensitivity)
    found = float(level) * sensitivity
    assert stats.poisson.pmf(0, size * found) <= 0.05 < stats.poisson.pmf(0, (size - 1) * found)


BETA = list(product(("0.05", "0.2"), (1.0, 0.7), (0.01, 0.1, 0.5)))


def scipy_beta_miss(found: float, size: int, correlation: float) -> float:
    spread = (1 - correlation) / correlation
    return float(stats.betabinom.pmf(0, size, found * spread, (1 - found) * spread))


@SCIPY
@pytest.mark.parametrize(("level", "sensitivity", "correlation"), BETA)
def test_finds_that_come_together_are_betabinom(level: str, sensitivity: float, correlation: float) -> None:
    expected = scipy_beta_miss(float(level) * sensitivity, 120, correlation)
    assert beta_binomial_miss(Decimal(level), 120, sensitivity, correlation) == pytest.approx(
        expected, rel=1e-9
    )


@SCIPY
@pytest.mark.parametrize(
    ("level", "correlation"),
    [("0.05", 0.001), ("0.05", 0.01), ("0.05", 0.05), ("0.05", 0.1), ("0.02", 0.01), ("0.01", 0.01)],
)
def test_plans_for_finds_that_come_together_are_the_least_by_betabinom(
    level: str, correlation: float
) -> None:
    size = beta_binomial_sample_size(Decimal(level), C95, 1.0, correlation)
    assert size is not None
    at, below = (scipy_beta_miss(float(level), looks, correlation) for looks in (size, size - 1))
    assert at <= 0.05 < below
