"""How well a treatment worked, against the papers of the formulas and tables of tests without failure."""

import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from service.science.outcomes import (
    Trial,
    abbott,
    efficacy,
    kill_proved,
    kills_required,
    share_may_be_shown,
)
from tests.reference.outside import Kind, outside

TABLE = outside(
    Kind.MEMORY, "tables of attribute tests for reliability: units to test for failures 0, 1, 2, ..."
)


@outside(
    Kind.PAPER, "Abbott 1925, J. Econ. Entomol. 18, 265: check 50 % dead, treated 98 % dead; 96 % is due"
)
def test_abbotts_own_case() -> None:
    assert abbott(0.02, 0.50) == pytest.approx(0.96)


@pytest.mark.parametrize(
    ("kill", "confidence", "size"),
    [
        pytest.param(
            0.95, 0.95, 59, marks=outside(Kind.PAPER, "McSorley and Littell 1993, Nematropica 23(2), 177-181")
        ),
        pytest.param(
            0.95, 0.99, 90, marks=outside(Kind.PAPER, "McSorley and Littell 1993, Nematropica 23(2), 177-181")
        ),
        pytest.param(
            0.9999,
            0.95,
            29_956,
            marks=outside(Kind.MEMORY, "Couey and Chew 1986, J. Econ. Entomol. 79, 887-890"),
        ),
        pytest.param(0.80, 0.90, 11, marks=TABLE),
        pytest.param(0.90, 0.90, 22, marks=TABLE),
        pytest.param(0.95, 0.90, 45, marks=TABLE),
        pytest.param(0.99, 0.90, 230, marks=TABLE),
        pytest.param(0.999, 0.90, 2302, marks=TABLE),
        pytest.param(0.80, 0.95, 14, marks=TABLE),
        pytest.param(0.90, 0.95, 29, marks=TABLE),
        pytest.param(0.99, 0.95, 299, marks=TABLE),
        pytest.param(0.999, 0.95, 2995, marks=TABLE),
        pytest.param(0.80, 0.99, 21, marks=TABLE),
        pytest.param(0.90, 0.99, 44, marks=TABLE),
        pytest.param(0.99, 0.99, 459, marks=TABLE),
        pytest.param(0.999, 0.99, 4603, marks=TABLE),
    ],
)
def test_units_to_treat_without_a_survivor(kill: float, confidence: float, size: int) -> None:
    assert kills_required(kill, confidence) == size


@TABLE
@pytest.mark.parametrize(
    ("kill", "confidence", "survivors", "size"),
    [
        (0.90, 0.90, 1, 38),
        (0.90, 0.90, 2, 52),
        (0.90, 0.90, 3, 65),
        (0.90, 0.90, 4, 78),
        (0.90, 0.95, 1, 46),
        (0.90, 0.95, 2, 61),
        (0.90, 0.95, 3, 76),
        (0.90, 0.95, 4, 89),
        (0.95, 0.90, 1, 77),
        (0.95, 0.90, 2, 105),
        (0.95, 0.90, 3, 132),
        (0.95, 0.95, 1, 93),
        (0.95, 0.95, 2, 124),
        (0.95, 0.95, 3, 153),
        (0.95, 0.95, 4, 181),
        (0.99, 0.95, 1, 473),
        (0.99, 0.95, 2, 628),
        (0.99, 0.95, 3, 773),
        (0.99, 0.95, 4, 913),
    ],
)
def test_units_to_treat_with_survivors(kill: float, confidence: float, survivors: int, size: int) -> None:
    assert kills_required(kill, confidence, survivors) == size


@outside(Kind.PAPER, "Couey and Chew 1986 as quoted for cold treatment of fruit: a minimum of 93 613 insects")
def test_disagreement_93613_insects_are_three_short_of_the_exact_number() -> None:
    # Printed for a kill of 0.999968 at 95 %. By the binomial they prove it with 0.9499966.
    assert kills_required(0.999968, 0.95) == 93_613 + 3
    missed = 0.999968**93_613
    assert missed == pytest.approx(1 - 0.9499966, abs=1e-7)


@outside(Kind.LIBRARY, "scipy.stats.binom")
@pytest.mark.parametrize("kill", [0.5, 0.9, 0.99, 0.9999])
@pytest.mark.parametrize("survivors", [0, 1, 5])
def test_the_number_is_the_least_by_binom(kill: float, survivors: int) -> None:
    size = kills_required(kill, 0.95, survivors)
    at, below = (stats.binom.cdf(survivors, units, 1 - kill) for units in (size, size - 1))
    assert at <= 0.05 + 1e-12 < below


@outside(Kind.LIBRARY, "statsmodels, proportion_confint, method beta")
@pytest.mark.parametrize(("treated", "survivors"), [(20, 0), (50, 0), (300, 0), (60, 1), (200, 7), (3, 2)])
def test_the_kill_proved_is_the_exact_lower_limit(treated: int, survivors: int) -> None:
    low, _ = proportion_confint(treated - survivors, treated, alpha=0.10, method="beta")
    assert kill_proved(treated, survivors, 0.95) == pytest.approx(low, rel=1e-9)


@outside(Kind.LIBRARY, "R binom.test, alternative greater, in the tests of SciPy")
@pytest.mark.parametrize(
    ("treated", "survivors", "confidence", "low"),
    [(10, 0, 0.95, 0.7411344), (100, 80, 0.95, 0.1366613252458672), (50, 47, 0.99, 0.008860761)],
)
def test_the_kill_proved_is_the_one_sided_limit_of_r(
    treated: int, survivors: int, confidence: float, low: float
) -> None:
    assert kill_proved(treated, survivors, confidence) == pytest.approx(low, rel=1e-7)


@outside(Kind.MEMORY, "WHO test procedures for insecticide resistance: discard above 20 % in the control")
@pytest.mark.parametrize(("left", "sound"), [(80, True), (79, False)])
def test_a_control_that_loses_over_a_fifth_discards_the_trial(left: int, sound: bool) -> None:
    assert efficacy(Trial(100, 5, 100, left, followed=True)).control_sound is sound


@outside(Kind.PRACTICE, "a per cent of fewer than ten lots looks surer than it is")
@pytest.mark.parametrize(("lots", "shown"), [(9, False), (10, True)])
def test_few_lots_are_told_in_counts(lots: int, shown: bool) -> None:
    assert share_may_be_shown(lots) is shown
