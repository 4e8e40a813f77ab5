"""Comparisons of groups against Fisher's own case, and what R and general libraries print."""

import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.power import NormalIndPower
from statsmodels.stats.proportion import proportion_effectsize

from service.science.proportions import fisher_exact, holm, units_per_arm
from tests.reference.outside import Kind, outside

R_FISHER = outside(Kind.LIBRARY, "R fisher.test, in the tests of SciPy")


@pytest.mark.parametrize(
    ("table", "chance"),
    [
        pytest.param((8, 2, 1, 5), 0.03496503496503495, marks=outside(Kind.WORKED, "SciPy, fisher_exact")),
        pytest.param((6, 2, 1, 4), 0.10256410256410257, marks=outside(Kind.MEMORY, "SciPy, fisher_exact")),
        pytest.param((100, 2, 1000, 5), 0.1300759363430016, marks=R_FISHER),
        pytest.param((2, 7, 8, 2), 0.02301413756522114, marks=R_FISHER),
        pytest.param((5, 1, 10, 10), 0.1973244147157190, marks=R_FISHER),
        pytest.param((5, 15, 20, 20), 0.09580440012477637, marks=R_FISHER),
        pytest.param((5, 16, 20, 25), 0.1725864953812994, marks=R_FISHER),
        pytest.param((10, 5, 10, 1), 0.1973244147157190, marks=R_FISHER),
        pytest.param((10, 5, 10, 0), 0.06126482213438734, marks=R_FISHER),
        pytest.param((5, 0, 1, 4), 0.04761904761904762, marks=R_FISHER),
        pytest.param((0, 5, 1, 4), 1.0, marks=R_FISHER),
        pytest.param((5, 1, 0, 4), 0.04761904761904758, marks=R_FISHER),
        pytest.param((0, 1, 3, 2), 1.0, marks=R_FISHER),
        pytest.param((6, 37, 108, 200), 0.005092697748126, marks=R_FISHER),
        pytest.param((22, 0, 0, 102), 7.175066786244549e-25, marks=R_FISHER),
        pytest.param((94, 48, 3577, 16_988), 2.069356340993818e-37, marks=R_FISHER),
        pytest.param((3, 1, 1, 3), 34 / 70, marks=outside(Kind.MEMORY, "Fisher 1935, the tea: 3 of 4 right")),
    ],
)
def test_fisher_two_sided(table: tuple[int, int, int, int], chance: float) -> None:
    a, b, c, d = table
    assert fisher_exact(a, a + b, c, c + d).two_sided == pytest.approx(chance, rel=1e-9)


@outside(Kind.MEMORY, "Fisher, The Design of Experiments, 1935, ch. 2: eight cups of tea")
@pytest.mark.parametrize(("right", "chance"), [(4, 1 / 70), (3, 17 / 70), (2, 53 / 70), (1, 69 / 70)])
def test_fisher_one_sided_for_the_tea(right: int, chance: float) -> None:
    assert fisher_exact(right, 4, 4 - right, 4).greater == pytest.approx(chance)


@outside(Kind.LIBRARY, "scipy.stats.fisher_exact")
@pytest.mark.parametrize("table", [(3, 57, 14, 46), (0, 40, 9, 31), (12, 8, 5, 15), (1, 1, 1, 1)])
@pytest.mark.parametrize("alternative", ["two-sided", "less", "greater"])
def test_fisher_is_that_of_scipy(table: tuple[int, int, int, int], alternative: str) -> None:
    a, b, c, d = table
    found = fisher_exact(a, a + b, c, c + d)
    expected = stats.fisher_exact([[a, b], [c, d]], alternative=alternative).pvalue
    ours = {"two-sided": found.two_sided, "less": found.less, "greater": found.greater}
    assert ours[alternative] == pytest.approx(expected, rel=1e-9)


RAW = [
    0.838541367553,
    0.642193923795,
    0.680845947633,
    0.967833824309,
    0.71626938238,
    0.177096952723,
    5.23656777208e-005,
    0.0202732688798,
    0.00028140506198,
    0.0149877310796,
]
HOLM = [1, 1, 1, 1, 1, 1, 5.23656777208e-04, 0.14191288215860001, 2.53264555782e-03, 0.11990184863680001]


@outside(Kind.LIBRARY, "R package multtest, in the tests of statsmodels")
@pytest.mark.parametrize("place", range(10))
def test_holm_is_that_of_r(place: int) -> None:
    assert holm(RAW)[place] == pytest.approx(HOLM[place], rel=1e-12)


@outside(Kind.LIBRARY, "statsmodels, multipletests, method holm")
@pytest.mark.parametrize("chances", [(0.01, 0.02, 0.03), (0.03, 0.01, 0.02, 0.011), (0.5, 0.5), (0.04,)])
def test_holm_is_that_of_statsmodels(chances: tuple[float, ...]) -> None:
    assert holm(chances) == pytest.approx(multipletests(chances, method="holm")[1])


@outside(Kind.LIBRARY, "statsmodels, NormalIndPower.solve_power with the arcsine effect size")
@pytest.mark.parametrize(
    ("first", "second", "power"),
    [
        (0.95, 0.70, 0.8),
        (0.5, 0.4, 0.8),
        (0.99, 0.9, 0.9),
        (0.1, 0.3, 0.95),
        (0.0, 0.05, 0.8),
        (1.0, 0.8, 0.9),
    ],
)
def test_units_to_see_a_difference(first: float, second: float, power: float) -> None:
    effect = proportion_effectsize(first, second)
    needed = NormalIndPower().solve_power(effect, alpha=0.05, power=power)
    assert units_per_arm(first, second, 0.95, power) - 1 < needed <= units_per_arm(first, second, 0.95, power)
