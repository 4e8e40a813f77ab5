"""Sampling against general references: worked examples of epidemiology packages, and SciPy's distributions.

The packages round the infested units up and approximate the hypergeometric; the exact value stands beside
theirs, and SciPy says which of the two is right.
"""

import math
from decimal import Decimal
from itertools import product

import numpy as np
import pytest
from scipy import stats

from service.science.sampling import (
    acceptance_probability,
    infested_units,
    miss_probability,
    sample_size,
    sample_size_with_acceptance,
    upper_infested,
)
from tests.reference.outside import Kind, outside

C95 = Decimal("0.95")
SCIPY = outside(Kind.LIBRARY, "scipy.stats")
EPIR_MANUAL = outside(Kind.WORKED, "R package epiR, manual, rsu.sssep.rs")
EPIR_VIGNETTE = outside(Kind.WORKED, "R package epiR, vignette on surveillance")
SURVEY_TESTS = outside(Kind.WORKED, "R package RSurveillance, its published tests")
SURVEY_EXAMPLES = outside(Kind.WORKED, "R package RSurveillance, its published examples")


def scipy_miss(lot_size: int, infested: int, drawn: int, sensitivity: float) -> float:
    row = np.arange(min(infested, drawn) + 1)
    chances = stats.hypergeom.pmf(row, lot_size, infested, drawn)
    return float(np.sum(chances * (1 - sensitivity) ** row))


APPROXIMATED = [
    pytest.param(1000, "0.05", 0.9, 65, 64, marks=EPIR_MANUAL),
    pytest.param(5000, "0.08", 0.995, 38, 36, marks=EPIR_MANUAL),
    pytest.param(200, "0.2", 1.0, 15, 13, marks=EPIR_MANUAL),
    pytest.param(500, "0.05", 0.9, 63, 62, marks=EPIR_VIGNETTE),
    pytest.param(20_000, "0.005", 0.9, 656, 655, marks=EPIR_VIGNETTE),
    pytest.param(200, "0.01", 0.8, 195, 195, marks=SURVEY_TESTS),
    pytest.param(500, "0.01", 0.8, 282, 281, marks=SURVEY_TESTS),
    pytest.param(1000, "0.01", 0.8, 324, 323, marks=SURVEY_TESTS),
    pytest.param(10_000, "0.01", 0.8, 369, 368, marks=SURVEY_TESTS),
    pytest.param(200, "0.01", 0.9, 173, 173, marks=SURVEY_TESTS),
    pytest.param(500, "0.01", 0.9, 251, 250, marks=SURVEY_TESTS),
    pytest.param(1000, "0.01", 0.9, 288, 287, marks=SURVEY_TESTS),
    pytest.param(5000, "0.01", 0.9, 324, 322, marks=SURVEY_TESTS),
    pytest.param(10_000, "0.01", 0.9, 328, 327, marks=SURVEY_TESTS),
    pytest.param(100_000, "0.01", 0.9, 333, 331, marks=SURVEY_TESTS),
    pytest.param(100, "0.01", 0.95, 100, 100, marks=SURVEY_EXAMPLES),
    pytest.param(100, "0.01", 1.0, 95, 95, marks=SURVEY_EXAMPLES),
    pytest.param(200, "0.01", 1.0, 156, 155, marks=SURVEY_EXAMPLES),
    pytest.param(500, "0.01", 1.0, 226, 225, marks=SURVEY_EXAMPLES),
    pytest.param(1000, "0.01", 1.0, 259, 258, marks=SURVEY_EXAMPLES),
    pytest.param(10_000, "0.01", 1.0, 296, 294, marks=SURVEY_EXAMPLES),
    pytest.param(80, "0.0125", 1.0, 76, 76, marks=SURVEY_EXAMPLES),
    pytest.param(80, "0.025", 1.0, 63, 62, marks=SURVEY_EXAMPLES),
    pytest.param(80, "0.0625", 1.0, 37, 36, marks=SURVEY_EXAMPLES),
    pytest.param(80, "0.125", 1.0, 21, 20, marks=SURVEY_EXAMPLES),
    pytest.param(80, "0.025", 0.8, 78, 78, marks=SURVEY_EXAMPLES),
    pytest.param(80, "0.0625", 0.8, 46, 45, marks=SURVEY_EXAMPLES),
    pytest.param(80, "0.125", 0.8, 26, 25, marks=SURVEY_EXAMPLES),
]


@pytest.mark.parametrize(("lot_size", "level", "sensitivity", "published", "exact"), APPROXIMATED)
def test_disagreement_approximations_ask_for_up_to_two_units_more(
    lot_size: int, level: str, sensitivity: float, published: int, exact: int
) -> None:
    # They solve (1 - s n / N)^D = 1 - C, which never asks for less than the exact sum.
    infested = infested_units(lot_size, Decimal(level))
    solved = lot_size / sensitivity * (1 - 0.05 ** (1 / infested))
    assert published - 1 < solved + 1e-6 < published + 1
    assert sample_size(lot_size, infested, C95, sensitivity) == exact
    assert published - 2 <= exact <= published
    assert scipy_miss(lot_size, infested, exact, sensitivity) <= 0.05 + 1e-9
    assert scipy_miss(lot_size, infested, exact - 1, sensitivity) > 0.05


@SURVEY_EXAMPLES
def test_one_infested_unit_of_80_cannot_be_found_by_one_look_that_misses_a_fifth() -> None:
    # Printed as NA.
    assert sample_size(80, 1, C95, 0.8) is None


@EPIR_VIGNETTE
@pytest.mark.parametrize(
    ("lot_size", "found"), [(80, 0.35625), (85, 0.335294), (90, 0.316667), (95, 0.30), (100, 0.285)]
)
def test_one_infested_unit_is_found_with_its_share_of_the_lot(lot_size: int, found: float) -> None:
    assert 1 - miss_probability(lot_size, 1, 30, 0.95) == pytest.approx(found, abs=5e-7)


@SURVEY_TESTS
@pytest.mark.parametrize(("infested", "found"), [(1, 0.8), (2, 0.96), (3, 0.992), (4, 0.9984), (5, 0.99968)])
def test_a_look_at_all_misses_by_its_sensitivity_alone(infested: int, found: float) -> None:
    assert 1 - miss_probability(60, infested, 60, 0.8) == pytest.approx(found)


@SURVEY_TESTS
@pytest.mark.parametrize(
    ("lot_size", "infested", "published"),
    [(100, 1, 0.4), (250, 3, 0.784), (500, 5, 0.92224)],
)
def test_disagreement_half_a_lot_finds_a_little_more_than_the_approximation(
    lot_size: int, infested: int, published: float
) -> None:
    found = 1 - miss_probability(lot_size, infested, lot_size // 2, 0.8)
    assert found == pytest.approx(1 - scipy_miss(lot_size, infested, lot_size // 2, 0.8))
    assert published - 1e-12 <= found <= published + 0.002


@outside(Kind.LIBRARY, "Wolfram Alpha, in the tests of SciPy")
@pytest.mark.parametrize(
    ("most", "lot_size", "infested", "drawn", "chance"),
    [(3, 10, 4, 5, 0.9761904761904762), (10, 10_000, 3000, 215, 2.681682217692179e-21)],
)
def test_cumulative_chances_of_a_computer_algebra_system(
    most: int, lot_size: int, infested: int, drawn: int, chance: float
) -> None:
    assert acceptance_probability(lot_size, infested, drawn, 1.0, most) == pytest.approx(chance, rel=1e-9)


@SCIPY
@pytest.mark.parametrize(
    ("lot_size", "share", "part"), list(product((40, 200, 1000, 20_000), (0.01, 0.05, 0.25), (0.1, 0.5, 0.9)))
)
def test_the_chance_to_miss_is_that_of_hypergeom(lot_size: int, share: float, part: float) -> None:
    infested, drawn = max(1, int(lot_size * share)), int(lot_size * part)
    expected = stats.hypergeom.pmf(0, lot_size, infested, drawn)
    assert miss_probability(lot_size, infested, drawn, 1.0) == pytest.approx(expected, rel=1e-7, abs=1e-300)


@SCIPY
@pytest.mark.parametrize(
    ("lot_size", "infested", "sensitivity"), list(product((60, 300, 2000), (1, 5, 20), (0.4, 0.8)))
)
def test_imperfect_looks_are_hypergeom_thinned_by_binom(
    lot_size: int, infested: int, sensitivity: float
) -> None:
    drawn = lot_size // 3
    expected = math.fsum(
        float(stats.hypergeom.pmf(k, lot_size, infested, drawn) * stats.binom.pmf(0, k, sensitivity))
        for k in range(infested + 1)
    )
    assert miss_probability(lot_size, infested, drawn, sensitivity) == pytest.approx(expected, rel=1e-8)


@SCIPY
@pytest.mark.parametrize("drawn", [1, 10, 51, 120, 190])
def test_a_draw_without_preference_is_the_noncentral_one_with_odds_of_one(drawn: int) -> None:
    expected = stats.nchypergeom_wallenius.pmf(0, 200, 10, drawn, 1.0)
    assert miss_probability(200, 10, drawn, 1.0) == pytest.approx(expected, rel=1e-6, abs=1e-12)


@SCIPY
@pytest.mark.parametrize(("accepted", "infested"), list(product((0, 1, 2, 4), (5, 20, 60))))
def test_plans_that_accept_finds_are_the_least_by_hypergeom(accepted: int, infested: int) -> None:
    size = sample_size_with_acceptance(600, infested, C95, 1.0, accepted)
    assert size is not None
    at, below = (stats.hypergeom.cdf(accepted, 600, infested, drawn) for drawn in (size, size - 1))
    assert at <= 0.05 < below


@SCIPY
@pytest.mark.parametrize(("drawn", "lot_size"), list(product((10, 30, 60), (60, 100, 400))))
def test_the_upper_limit_is_the_last_that_hypergeom_allows(drawn: int, lot_size: int) -> None:
    row = np.arange(lot_size + 1)
    allowed = row[stats.hypergeom.pmf(0, lot_size, row, drawn) > 0.05 + 1e-9]
    assert upper_infested(lot_size, drawn, 1.0, C95) == allowed[-1]
