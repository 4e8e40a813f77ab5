"""Tubs that differ, credits and eyes that are tested, against general statistics libraries."""

import math

import numpy as np
import pytest
from scipy import integrate, stats
from statsmodels.genmod.families import Binomial
from statsmodels.genmod.generalized_linear_model import GLM
from statsmodels.stats.proportion import proportion_confint

from service.science.evidence import BetaCredit, credit_interval, dispersion, sensitivity_found
from service.science.thermal import SPREAD_OF_HATCHING, Development, share_hatched_of_any_age
from tests.reference.outside import Kind, outside

POND = Development("pond_snail", 9.0, 176.0, 16.0, 20.0, None, 28.0, 34.0)


@outside(Kind.LIBRARY, "statsmodels GLM, binomial family, scale='X2'")
@pytest.mark.parametrize(
    "arms",
    [
        [[(9, 10), (5, 10)], [(2, 10), (3, 10)]],
        [[(12, 20), (15, 18), (3, 11)], [(1, 9), (4, 12), (2, 20)], [(7, 7), (6, 8), (9, 14)]],
    ],
)
def test_dispersion_is_the_scale_of_a_quasi_binomial_model(arms: list[list[tuple[int, int]]]) -> None:
    rows = [(count / total, total, arm) for arm, tubs in enumerate(arms) for count, total in tubs]
    shares, totals = (np.array([row[column] for row in rows], dtype=float) for column in (0, 1))
    design = np.eye(len(arms))[[row[2] for row in rows]]
    expected = GLM(shares, design, family=Binomial(), var_weights=totals).fit(scale="X2").scale
    found = dispersion(arms)
    assert found is not None
    assert found.ratio == pytest.approx(expected, rel=1e-6)


@outside(Kind.LIBRARY, "scipy.stats.beta")
@pytest.mark.parametrize(("killed", "survived"), [(13.43, 1.4), (1, 1), (0.4, 60)])
def test_the_limits_of_a_credit_are_those_of_the_beta_distribution(killed: float, survived: float) -> None:
    found = credit_interval(BetaCredit(killed, survived), 0.9)
    assert (found.low, found.high) == pytest.approx(stats.beta(killed, survived).interval(0.9), rel=1e-9)


@outside(Kind.LIBRARY, "statsmodels proportion_confint, method='beta'")
@pytest.mark.parametrize(("hidden", "found"), [(10, 8), (12, 12), (20, 0)])
def test_the_limits_of_a_tested_eye_are_exact(hidden: int, found: int) -> None:
    ours = sensitivity_found(hidden, found)
    assert (ours.low, ours.high) == pytest.approx(
        proportion_confint(found, hidden, 0.05, method="beta"), abs=1e-9
    )


@outside(Kind.LIBRARY, "scipy.integrate.quad over the log-normal time to hatch")
@pytest.mark.parametrize("degree_days", [20, 88, 176, 264])
def test_the_hatch_of_eggs_of_any_age_is_the_integral_it_says(degree_days: float) -> None:
    hatch = stats.lognorm(SPREAD_OF_HATCHING, scale=176.0)
    expected, _ = integrate.quad(
        lambda needed: min(1.0, degree_days / needed) * hatch.pdf(needed),
        1,
        900,
        points=[degree_days],
        limit=200,
    )
    assert share_hatched_of_any_age(degree_days, POND) == pytest.approx(expected, rel=1e-6)
    assert math.isclose(hatch.cdf(900), 1, abs_tol=1e-9)
