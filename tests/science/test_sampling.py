"""Sampling plans: what they promise, where they tie or round, and scipy's sums beside ours."""

from collections.abc import Callable
from decimal import Decimal

import pytest
from scipy import stats

from service.science import sampling
from service.science.domain import OutOfDomain
from service.science.sampling import infested_units, miss_probability, sample_size, upper_infested

C95, C99 = Decimal("0.95"), Decimal("0.99")


def plan_size(lot_size: int, level: str, confidence: Decimal = C95, sensitivity: float = 1.0) -> int | None:
    return sample_size(lot_size, infested_units(lot_size, Decimal(level)), confidence, sensitivity)


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
    found = sampling.least_census_sensitivity(infested, C95)
    assert found == pytest.approx(least, abs=5.1e-5)
    assert sample_size(60, infested, C95, found) == 60
    assert sample_size(60, infested, C95, found - 1e-6) is None


@pytest.mark.parametrize(("lot_size", "size"), [(20, 19), (100, 95), (1_000_000, 950_000)])
def test_a_plan_that_reaches_the_confidence_exactly_is_enough(lot_size: int, size: int) -> None:
    # One infested unit: 1 - n / N, which floats put a hair above 0.05.
    assert sample_size(lot_size, 1, C95, 1.0) == size


@pytest.mark.parametrize(
    ("lot_size", "level", "down", "up"),
    [
        (300, "0.005", 285, 233),
        (500, "0.005", 388, 316),
        (700, "0.005", 442, 369),
        (25, "0.05", 24, 19),
        (50, "0.05", 39, 31),
        (150, "0.01", 143, 117),
    ],
)
def test_rounding_infested_units_down_is_the_careful_way(
    lot_size: int, level: str, down: int, up: int
) -> None:
    infested = infested_units(lot_size, Decimal(level))
    assert sample_size(lot_size, infested, C95, 1.0) == down
    assert sample_size(lot_size, infested + 1, C95, 1.0) == up


def test_rounding_down_makes_some_larger_lots_need_fewer() -> None:
    assert [plan_size(lot_size, "0.005") for lot_size in (500, 600, 700, 800)] == [388, 379, 442, 421]


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
        ("infested", lambda: sampling.least_census_sensitivity(0, C95)),
        ("infested", lambda: sampling.least_census_sensitivity(10_000_001, C95)),
        ("confidence", lambda: sampling.least_census_sensitivity(1, Decimal(1))),
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
