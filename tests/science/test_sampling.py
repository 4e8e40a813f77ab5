"""Sampling plans against ISPM 31, scipy, and the manuals and tests of published survey software.

epiR and RSurveillance round and approximate in their own ways; the exact value stands beside theirs.
"""

import math
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from service.science import sampling
from service.science.domain import OutOfDomain
from service.science.sampling import infested_units, miss_probability, sample_size, upper_infested

C95, C99 = Decimal("0.95"), Decimal("0.99")

# ISPM 31 appendix 2, table 1: least n, hypergeometric, acceptance number 0; cells from memory, each equal to
# the exact hypergeometric. Columns: levels 5, 2, 1, 0.5, 0.1 % at 95 %, then at 99 %. "*" = the level times
# the lot was no whole number and was rounded down, "-" = it was below one unit.
TABLE_1 = """
25     24*  -    -    -     -      25*  -    -    -     -
50     39*  48   -    -     -      45*  50   -    -     -
100    45   78   95   -     -      59   90   99   -     -
200    51   105  155  190   -      73   136  180  198   -
300    54   117  189  285*  -      78   160  235  297*  -
400    55   124  211  311   -      81   174  273  360   -
500    56   129  225  388*  -      83   183  300  450*  -
600    56   132  235  379   -      84   190  321  470   -
700    57   134  243  442*  -      85   195  336  549*  -
800    57   136  249  421   -      85   199  349  546   -
900    57   137  254  474*  -      86   202  359  615*  -
1000   57   138  258  450   950    86   204  368  601   990
2000   58   143  277  517   1553   88   216  410  737   1800
3000   58   145  284  542   1895   89   220  425  792   2353
4000   58   146  288  556   2108   89   222  433  821   2735
5000   59   147  290  564   2253   89   223  438  840   3009
6000   59   147  291  569   2358   90   224  442  852   3214
7000   59   147  292  573   2437   90   225  444  861   3373
8000   59   147  293  576   2498   90   225  446  868   3500
9000   59   148  294  579   2548   90   226  447  874   3604
10000  59   148  294  581   2588   90   226  448  878   3689
20000  59   148  296  589   2781   90   227  453  898   4112
30000  59   148  297  592   2850   90   228  455  905   4268
40000  59   149  297  594   2885   90   228  456  909   4348
50000  59   149  298  595   2907   90   228  457  911   4398
60000  59   149  298  595   2921   90   228  457  912   4431
70000  59   149  298  596   2932   90   228  457  913   4455
80000  59   149  298  596   2939   90   228  457  914   4473
90000  59   149  298  596   2945   90   228  458  915   4488
100000 59   149  298  596   2950   90   228  458  915   4499
200000 59   149  298  597   2972   90   228  458  917   4551
"""
LEVELS = [Decimal(level) for level in ("0.05", "0.02", "0.01", "0.005", "0.001")]
ROWS = [line.split() for line in TABLE_1.strip().splitlines()]


def plan_size(lot_size: int, level: str, confidence: Decimal = C95, sensitivity: float = 1.0) -> int | None:
    return sample_size(lot_size, infested_units(lot_size, Decimal(level)), confidence, sensitivity)


@pytest.mark.parametrize("row", ROWS, ids=[row[0] for row in ROWS])
def test_plans_are_those_of_ispm_31_table_1(row: list[str]) -> None:
    lot_size = int(row[0])
    columns = [(level, confidence) for confidence in (C95, C99) for level in LEVELS]
    for (level, confidence), cell in zip(columns, row[1:], strict=True):
        units = level * lot_size
        assert (cell == "-") == (units < 1)
        if cell != "-":
            assert cell.endswith("*") == (units % 1 != 0)
            infested = infested_units(lot_size, level)
            assert sample_size(lot_size, infested, confidence, 1.0) == int(cell.rstrip("*"))


@pytest.mark.parametrize(
    ("lot_size", "level", "infested"),
    [
        (300, "0.005", 1),
        (100, "0.29", 29),  # binary floats say 28
        (800, "0.29", 232),
        (100, "0.07", 7),
        (500, "0.005", 2),
        (25, "0.01", 1),  # below one unit means one
        (1, "0.000000001", 1),
        (40, "1", 40),
        (10_000_000, "0.3333333333333333333333333333333333", 3_333_333),
    ],
)
def test_infested_units_are_rounded_down_exactly_and_at_least_one(
    lot_size: int, level: str, infested: int
) -> None:
    assert infested_units(lot_size, Decimal(level)) == infested


@pytest.mark.parametrize(
    ("lot_size", "level", "sensitivity", "published", "exact"),
    [
        (1000, "0.05", 0.9, 65, 64),  # epiR manual, rsu.sssep.rs, example 1
        (5000, "0.08", 0.995, 38, 36),  # example 2
        (200, "0.2", 1.0, 15, 13),  # example 3
        (500, "0.05", 0.9, 63, 62),  # epiR vignette
        (20_000, "0.005", 0.9, 656, 655),  # epiR vignette, example 3
        (200, "0.01", 0.8, 195, 195),  # RSurveillance tests, n.hypergeo
        (500, "0.01", 0.8, 282, 281),
        (1000, "0.01", 0.8, 324, 323),
        (10_000, "0.01", 0.8, 369, 368),
        (200, "0.01", 0.9, 173, 173),  # RSurveillance tests, n.freedom
        (500, "0.01", 0.9, 251, 250),
        (1000, "0.01", 0.9, 288, 287),
        (5000, "0.01", 0.9, 324, 322),
        (10_000, "0.01", 0.9, 328, 327),
        (100_000, "0.01", 0.9, 333, 331),
        (100, "0.01", 0.95, 100, 100),  # a look at all reaches 0.95 exactly: a tie is enough
        (100, "0.01", 1.0, 95, 95),
        (200, "0.01", 1.0, 156, 155),
        (500, "0.01", 1.0, 226, 225),
        (1000, "0.01", 1.0, 259, 258),
        (10_000, "0.01", 1.0, 296, 294),
    ],
)
def test_plans_never_need_more_than_published_approximations(
    lot_size: int, level: str, sensitivity: float, published: int, exact: int
) -> None:
    assert plan_size(lot_size, level, C95, sensitivity) == exact <= published


@pytest.mark.parametrize(
    ("infested", "sensitivity", "exact"),
    [
        (1, 1.0, 76),
        (2, 1.0, 62),
        (5, 1.0, 36),
        (10, 1.0, 20),
        (1, 0.8, None),
        (2, 0.8, 78),
        (5, 0.8, 45),
        (10, 0.8, 25),
    ],
)
def test_a_lot_of_80_as_in_the_survey_examples(infested: int, sensitivity: float, exact: int | None) -> None:
    # RSurveillance examples give 76 63 37 21 and NA 78 46 26 by an approximation.
    assert sample_size(80, infested, C95, sensitivity) == exact


def test_the_published_workbook_value_is_met() -> None:
    # Cannon & Roe table 1 (workbook by Hawkins 2003): N = 1600, 1 %, 99 % -> 399.
    assert plan_size(1600, "0.01", C99) == 399


@pytest.mark.parametrize(
    ("lot_size", "found"), [(80, 0.35625), (85, 0.335294), (90, 0.316667), (95, 0.30), (100, 0.285)]
)
def test_one_infested_unit_is_found_with_its_share_of_the_lot(lot_size: int, found: float) -> None:
    # epiR vignette, example 5: 30 looked at, sensitivity 0.95.
    assert 1 - miss_probability(lot_size, 1, 30, 0.95) == pytest.approx(found, abs=5e-7)


@pytest.mark.parametrize(("drawn", "found"), [(10, 0.3689937), (50, 0.8999612), (100, 0.9899922)])
def test_in_a_very_large_lot_a_look_is_binomial(drawn: int, found: float) -> None:
    # RSurveillance tests, sep.binom: 5 %, sensitivity 0.9.
    assert 1 - miss_probability(10_000_000, 500_000, drawn, 0.9) == pytest.approx(found, rel=1e-5)


@pytest.mark.parametrize(("infested", "found"), [(1, 0.8), (2, 0.96), (3, 0.992), (4, 0.9984), (5, 0.99968)])
def test_a_look_at_all_misses_by_its_sensitivity_alone(infested: int, found: float) -> None:
    # RSurveillance tests, sep.exact, sensitivity 0.8.
    assert 1 - miss_probability(60, infested, 60, 0.8) == pytest.approx(found)


@pytest.mark.parametrize(
    ("lot_size", "infested", "drawn", "sensitivity", "missed"),
    [
        # Worked in exact fractions.
        (200, 10, 51, 0.8, 0.09769507),
        (200, 10, 66, 0.8, 0.04391080),
        (100, 5, 45, 0.9, 0.07033222),
        (60, 3, 60, 0.7, 0.027),
        (60, 1, 60, 0.8, 0.2),
        (1000, 10, 323, 0.8, 0.04973912),
        (200, 1, 51, 1.0, 0.745),
        (200, 2, 51, 1.0, 0.55407),
        (200, 10, 51, 1.0, 0.048621),
        (200, 20, 51, 1.0, 0.0019505),
        (1000, 50, 65, 0.9, 0.045766),
    ],
)
def test_the_chance_to_miss_is_the_worked_one(
    lot_size: int, infested: int, drawn: int, sensitivity: float, missed: float
) -> None:
    assert miss_probability(lot_size, infested, drawn, sensitivity) == pytest.approx(missed, rel=3e-5)


@pytest.mark.parametrize(
    ("lot_size", "infested", "acceptance_number", "size"),
    [
        (500, 25, 0, 56),
        (500, 25, 1, 87),
        (500, 25, 2, 114),
        (200, 10, 1, 78),
        (1000, 10, 1, 393),
        (10_000, 500, 1, 93),
    ],
)
def test_accepting_finds_needs_larger_samples(
    lot_size: int, infested: int, acceptance_number: int, size: int
) -> None:
    assert sampling.sample_size_with_acceptance(lot_size, infested, C95, 1.0, acceptance_number) == size
    # scipy's hypergeometric as oracle: enough at this size, not enough below.
    at, below = (
        stats.hypergeom.cdf(acceptance_number, lot_size, infested, drawn) for drawn in (size, size - 1)
    )
    assert at <= 0.05 < below


@pytest.mark.parametrize(
    ("sensitivity", "looks_95", "looks_99"),
    [
        (0.3, 9, 13),
        (0.5, 5, 7),
        (0.6, 4, 6),
        (0.7, 3, 4),
        (0.8, 2, 3),
        (0.9, 2, 2),
        (0.95, 1, 2),
        (0.99, 1, 1),  # exactly 99 %: a tie is enough
    ],
)
def test_where_one_look_cannot_do_the_whole_lot_is_looked_at_again(
    sensitivity: float, looks_95: int, looks_99: int
) -> None:
    # ceil(ln(1 - C) / ln(1 - s)) for one infested unit.
    for confidence, looks in ((C95, looks_95), (C99, looks_99)):
        plan = sampling.sampling_plan(40, Decimal("0.01"), confidence, sensitivity)
        assert plan.looks_needed == looks
        assert plan.reachable == (looks == 1)
        assert plan.sample_size == 40 or plan.reachable
        assert 1 - (1 - plan.achieved_confidence) ** looks >= float(confidence) - 1e-12


@pytest.mark.parametrize(("infested", "least"), [(1, 0.95), (2, 0.7764), (3, 0.6316), (5, 0.4507)])
def test_one_look_at_all_needs_a_least_sensitivity(infested: int, least: float) -> None:
    # Worked: one less the D-th root of 0.05.
    assert sample_size(60, infested, C95, least + 1e-4) is not None
    assert sample_size(60, infested, C95, least - 1e-4) is None


@pytest.mark.parametrize(
    ("lot_size", "one", "two", "five_per_cent"),
    [
        (10, 10, 8, None),
        (20, 19, 16, 19),
        (40, 38, 31, 31),
        (60, 57, 47, 38),
        (100, 95, 78, 45),
        (150, 143, 117, 52),
        (200, 190, 155, 51),
        (500, 475, 388, 56),
    ],
)
def test_plans_of_nursery_lots(lot_size: int, one: int, two: int, five_per_cent: int | None) -> None:
    assert sample_size(lot_size, 1, C95, 1.0) == one
    assert sample_size(lot_size, 2, C95, 1.0) == two
    # Below one unit the plan assumes one.
    assert plan_size(lot_size, "0.05") == (one if five_per_cent is None else five_per_cent)


@pytest.mark.parametrize(
    ("lot_size", "drawn", "sensitivity", "upper"),
    [
        (100, 30, 1.0, 8),
        (100, 60, 1.0, 3),
        (100, 100, 0.8, 1),
        (200, 51, 1.0, 9),
        (200, 51, 0.7, 14),
        (60, 60, 0.7, 2),
        (100, 100, 0.95, 0),
        (100, 0, 1.0, 100),
        (1, 0, 1.0, 1),
    ],
)
def test_a_clean_look_leaves_room_for_so_many_infested(
    lot_size: int, drawn: int, sensitivity: float, upper: int
) -> None:
    # Worked: the largest D missed with more than 5 %.
    assert upper_infested(lot_size, drawn, sensitivity, C95) == upper


def test_a_plan_tells_all_its_figures() -> None:
    plan = sampling.sampling_plan(200, Decimal("0.05"), C95, 0.8)
    assert (plan.sample_size, plan.reachable, plan.looks_needed) == (64, True, 1)
    assert (plan.infested_units_assumed, plan.lot_size) == (10, 200)
    assert (plan.detection_level, plan.confidence, plan.sensitivity) == (Decimal("0.05"), C95, 0.8)
    assert plan.achieved_confidence == pytest.approx(1 - miss_probability(200, 10, 64, 0.8))


def test_scaling_the_level_by_the_sensitivity_would_ask_for_too_few() -> None:
    # "level x efficacy" in the plain hypergeometric: N = 200, 5 %, 0.8 gives 62, which finds 0.9453 only.
    assert sample_size(200, 8, C95, 1.0) == 62
    assert 1 - miss_probability(200, 10, 62, 0.8) == pytest.approx(0.9453, abs=5e-5)


def test_a_very_large_lot_is_planned_at_once() -> None:
    assert [sample_size(1_000_000, infested, C95, 1.0) for infested in (1, 2, 1000)] == [
        950_000,
        776_393,
        2990,
    ]
    assert [sample_size(1_000_000, infested, C95, 0.8) for infested in (1, 2, 1000)] == [None, 970_492, 3738]


LOTS = st.integers(2, 200).flatmap(
    lambda lot_size: st.tuples(st.just(lot_size), st.integers(1, lot_size), st.integers(0, lot_size))
)
SENSITIVITIES = st.one_of(st.just(1.0), st.floats(0.01, 1.0))
CONFIDENCES = st.decimals("0.01", "0.999", places=3)


@given(LOTS, SENSITIVITIES)
def test_the_chance_to_miss_is_the_thinned_hypergeometric_of_scipy(
    lot: tuple[int, int, int], sensitivity: float
) -> None:
    lot_size, infested, drawn = lot
    row = range(min(infested, drawn) + 1)
    expected = math.fsum(
        float(stats.hypergeom.pmf(k, lot_size, infested, drawn)) * (1 - sensitivity) ** k for k in row
    )
    assert miss_probability(lot_size, infested, drawn, sensitivity) == pytest.approx(
        expected, rel=1e-8, abs=1e-290
    )


@given(LOTS, SENSITIVITIES, st.integers(0, 5))
def test_acceptance_is_the_thinned_cumulative_chance_of_scipy(
    lot: tuple[int, int, int], sensitivity: float, accepted: int
) -> None:
    lot_size, infested, drawn = lot
    assume(accepted < infested)
    expected = math.fsum(
        float(stats.hypergeom.pmf(k, lot_size, infested, drawn) * stats.binom.cdf(accepted, k, sensitivity))
        for k in range(min(infested, drawn) + 1)
    )
    found = sampling.acceptance_probability(lot_size, infested, drawn, sensitivity, accepted)
    assert found == pytest.approx(expected, rel=1e-8, abs=1e-290)
    if accepted == 0:
        assert found == pytest.approx(
            miss_probability(lot_size, infested, drawn, sensitivity), rel=1e-8, abs=1e-290
        )


@given(LOTS, SENSITIVITIES)
def test_more_looking_more_infested_and_better_eyes_miss_less(
    lot: tuple[int, int, int], sensitivity: float
) -> None:
    lot_size, infested, drawn = lot
    missed = miss_probability(lot_size, infested, drawn, sensitivity)
    slack = 1 + 1e-9
    assert missed <= (1 - sensitivity * drawn / lot_size) ** infested * slack + 1e-12
    if drawn < lot_size:
        assert miss_probability(lot_size, infested, drawn + 1, sensitivity) <= missed * slack
    if infested < lot_size:
        assert miss_probability(lot_size, infested + 1, drawn, sensitivity) <= missed * slack
    assert miss_probability(lot_size, infested, drawn, (1 + sensitivity) / 2) <= missed * slack


@given(LOTS, SENSITIVITIES)
def test_a_look_at_all_is_independent_of_the_lot(lot: tuple[int, int, int], sensitivity: float) -> None:
    lot_size, infested, _ = lot
    expected = (1 - sensitivity) ** infested
    assert miss_probability(lot_size, infested, lot_size, sensitivity) == pytest.approx(expected, rel=1e-9)


@given(LOTS, SENSITIVITIES, CONFIDENCES)
def test_a_plan_is_enough_and_one_unit_less_is_not(
    lot: tuple[int, int, int], sensitivity: float, confidence: Decimal
) -> None:
    lot_size, infested, _ = lot
    size = sample_size(lot_size, infested, confidence, sensitivity)
    allowed = float(1 - confidence) + 1e-12
    if size is None:
        assert miss_probability(lot_size, infested, lot_size, sensitivity) > allowed
        return
    assert miss_probability(lot_size, infested, size, sensitivity) <= allowed
    assert size == 1 or miss_probability(lot_size, infested, size - 1, sensitivity) > allowed
    assert sampling.sample_size_with_acceptance(lot_size, infested, confidence, sensitivity, 0) == size


@given(LOTS, SENSITIVITIES, CONFIDENCES)
def test_more_confidence_and_worse_eyes_need_more_units(
    lot: tuple[int, int, int], sensitivity: float, confidence: Decimal
) -> None:
    lot_size, infested, _ = lot
    whole = lot_size + 1  # stands for "not even all of them"
    size = sample_size(lot_size, infested, confidence, sensitivity) or whole
    surer = sample_size(lot_size, infested, (1 + confidence) / 2, sensitivity) or whole
    worse = sample_size(lot_size, infested, confidence, sensitivity / 2) or whole
    assert size <= surer
    assert size <= worse


@given(st.integers(20, 400), st.integers(1, 20), SENSITIVITIES)
def test_a_finite_lot_never_needs_more_than_an_endless_one(
    lot_size: int, infested: int, sensitivity: float
) -> None:
    size = sample_size(lot_size, infested, C95, sensitivity)
    found_each = sensitivity * float(Fraction(infested, lot_size))
    assume(size is not None and found_each < 1)
    assert size is not None
    assert size <= math.ceil(math.log(0.05) / math.log1p(-found_each) + 1e-9)


@given(LOTS, SENSITIVITIES, CONFIDENCES)
def test_the_upper_limit_is_the_last_one_a_clean_look_allows(
    lot: tuple[int, int, int], sensitivity: float, confidence: Decimal
) -> None:
    lot_size, _, drawn = lot
    upper = upper_infested(lot_size, drawn, sensitivity, confidence)
    allowed = float(1 - confidence) + 1e-12
    assert 0 <= upper <= lot_size
    assert upper == 0 or miss_probability(lot_size, upper, drawn, sensitivity) > allowed
    assert upper == lot_size or miss_probability(lot_size, upper + 1, drawn, sensitivity) <= allowed


@pytest.mark.parametrize(
    ("parameter", "refused"),
    [
        ("lot_size", lambda: infested_units(0, Decimal("0.05"))),
        ("lot_size", lambda: infested_units(10_000_001, Decimal("0.05"))),
        ("detection_level", lambda: infested_units(40, Decimal(0))),
        ("detection_level", lambda: infested_units(40, Decimal("1.01"))),
        ("detection_level", lambda: infested_units(40, Decimal("NaN"))),
        ("infested", lambda: miss_probability(40, 0, 10, 0.8)),
        ("infested", lambda: miss_probability(40, 41, 10, 0.8)),
        ("sample_size", lambda: miss_probability(40, 1, -1, 0.8)),
        ("sample_size", lambda: miss_probability(40, 1, 41, 0.8)),
        ("sensitivity", lambda: miss_probability(40, 1, 10, 0)),
        ("sensitivity", lambda: miss_probability(40, 1, 10, 1.01)),
        ("confidence", lambda: sample_size(40, 1, Decimal(1), 0.8)),
        ("confidence", lambda: sample_size(40, 1, Decimal(0), 0.8)),
        ("confidence", lambda: sample_size(40, 1, Decimal("NaN"), 0.8)),
        ("confidence", lambda: upper_infested(40, 10, 0.8, Decimal("1.2"))),
        ("acceptance_number", lambda: sampling.acceptance_probability(40, 2, 10, 0.8, 2)),
        ("acceptance_number", lambda: sampling.acceptance_probability(40, 2, 10, 0.8, -1)),
    ],
)
def test_figures_that_make_no_plan_are_refused_by_name(parameter: str, refused: Callable[[], object]) -> None:
    with pytest.raises(OutOfDomain) as refusal:
        refused()
    assert refusal.value.parameter == parameter


def test_accepting_finds_is_not_always_possible() -> None:
    assert sampling.sample_size_with_acceptance(40, 2, C95, 0.8, 1) is None
