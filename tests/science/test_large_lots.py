"""Plans for large lots: limits, ties, and how the models stand to each other."""

import math
from collections.abc import Callable
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science import large_lots
from service.science.domain import OutOfDomain
from service.science.large_lots import (
    beta_binomial_miss,
    beta_binomial_sample_size,
    binomial_miss,
    binomial_sample_size,
    poisson_sample_size,
    upper_share,
)
from service.science.sampling import sample_size, upper_infested

C95 = Decimal("0.95")
FIVE = Decimal("0.05")
LEVELS = st.decimals("0.002", "0.9", places=3)
SENSITIVITIES = st.floats(0.05, 1.0)


def test_nothing_looked_at_finds_nothing() -> None:
    assert binomial_miss(FIVE, 0, 1.0) == 1
    assert beta_binomial_miss(FIVE, 0, 1.0, 0.1) == 1
    assert beta_binomial_miss(Decimal(1), 0, 1.0, 0.1) == 1
    assert upper_share(0, C95, 1.0) == 1


def test_where_all_are_infested_one_sure_look_is_enough() -> None:
    assert binomial_sample_size(Decimal(1), C95, 1.0) == 1
    assert beta_binomial_sample_size(Decimal(1), C95, 1.0, 0.5) == 1
    assert beta_binomial_miss(Decimal(1), 1, 1.0, 0.5) == 0
    assert binomial_miss(Decimal(1), 1, 1.0) == 0


def test_a_tie_is_enough() -> None:
    # 0.8 x 0.5 leaves 0.6 a look, 0.36 after two.
    assert binomial_sample_size(Decimal("0.5"), Decimal("0.64"), 0.8) == 2
    assert binomial_sample_size(Decimal("0.5"), Decimal("0.6401"), 0.8) == 3
    # One half of 1/2, then of (1/2 + 1)/2 = 3/4: 3/8 are missed after two.
    assert beta_binomial_sample_size(Decimal("0.5"), Decimal("0.625"), 1.0, 0.5) == 2
    assert beta_binomial_miss(Decimal("0.5"), 2, 1.0, 0.5) == pytest.approx(3 / 8)


@pytest.mark.parametrize(
    ("level", "correlation", "size"),
    [
        ("0.05", 0.001, 61),
        ("0.05", 0.01, 80),
        ("0.05", 0.05, 405),
        ("0.05", 0.1, 6436),
        ("0.02", 0.001, 160),
        ("0.02", 0.01, 346),
        ("0.02", 0.05, 48_567),
        ("0.01", 0.001, 348),
        ("0.01", 0.01, 1923),
    ],
)
def test_finds_that_come_together_need_many_more_looks(level: str, correlation: float, size: int) -> None:
    assert beta_binomial_sample_size(Decimal(level), C95, 1.0, correlation) == size


@pytest.mark.parametrize("edge", [65_536, 65_537, 131_072])
def test_long_rows_are_summed_block_after_block(edge: int) -> None:
    missed = beta_binomial_miss(Decimal("0.0001"), edge, 1.0, 1e-5)
    found = beta_binomial_sample_size(Decimal("0.0001"), Decimal(1) - Decimal(missed), 1.0, 1e-5)
    assert found == edge


def test_ten_million_looks_may_be_too_few(monkeypatch: pytest.MonkeyPatch) -> None:
    assert beta_binomial_sample_size(Decimal("0.01"), C95, 1.0, 0.5) is None
    monkeypatch.setattr(large_lots, "BLOCK", 10)
    monkeypatch.setattr(large_lots, "LARGEST_LOT", 60)
    assert beta_binomial_sample_size(FIVE, C95, 1.0, 0.0) == 59
    monkeypatch.setattr(large_lots, "LARGEST_LOT", 50)
    assert beta_binomial_sample_size(FIVE, C95, 1.0, 0.0) is None


def test_without_correlation_the_beta_binomial_is_the_binomial() -> None:
    assert beta_binomial_sample_size(FIVE, C95, 0.8, 0.0) == binomial_sample_size(FIVE, C95, 0.8) == 74
    assert beta_binomial_miss(FIVE, 74, 0.8, 0.0) == pytest.approx(binomial_miss(FIVE, 74, 0.8))


@pytest.mark.parametrize(
    ("size", "sensitivity", "share"), [(59, 1.0, 0.04951), (30, 0.8, 0.118792), (1, 1.0, 0.95), (1, 0.8, 1.0)]
)
def test_the_share_that_a_clean_look_allows_for(size: int, sensitivity: float, share: float) -> None:
    # By hand: (1 - 0.05^(1/n)) / s, at most 1.
    assert upper_share(size, C95, sensitivity) == pytest.approx(share, abs=5.1e-6)


@given(st.integers(1, 5000), SENSITIVITIES)
def test_more_looks_and_better_eyes_allow_for_less(size: int, sensitivity: float) -> None:
    share = upper_share(size, C95, sensitivity)
    assert upper_share(size + 1, C95, sensitivity) <= share
    assert upper_share(size, C95, (1 + sensitivity) / 2) <= share
    assert share <= 3 / (size * sensitivity)
    assert share == 1 or binomial_miss(Decimal(share), size, sensitivity) == pytest.approx(0.05)


@given(LEVELS, SENSITIVITIES, st.floats(0, 0.5))
def test_poisson_and_clusters_never_need_fewer_looks(
    level: Decimal, sensitivity: float, correlation: float
) -> None:
    size = binomial_sample_size(level, C95, sensitivity)
    assert poisson_sample_size(level, C95, sensitivity) >= size
    missed = beta_binomial_miss(level, size, sensitivity, correlation)
    assert missed >= binomial_miss(level, size, sensitivity) * (1 - 1e-9)
    assert binomial_sample_size(level, Decimal("0.99"), sensitivity) >= size


@given(st.integers(1, 30), st.integers(2, 50), SENSITIVITIES)
def test_a_lot_of_known_size_never_needs_more(infested: int, times: int, sensitivity: float) -> None:
    lot_size = infested * times
    level = Decimal(infested) / lot_size
    size = sample_size(lot_size, infested, C95, sensitivity)
    assert size is None or size <= binomial_sample_size(level, C95, sensitivity)


def test_a_large_lot_is_as_good_as_endless() -> None:
    share = upper_infested(10_000_000, 300, 0.9, C95) / 10_000_000
    assert share == pytest.approx(upper_share(300, C95, 0.9), rel=1e-3)


def test_few_plants_are_not_three_in_n() -> None:
    assert upper_share(20, C95, 1.0) == pytest.approx(-math.expm1(math.log(0.05) / 20))


@pytest.mark.parametrize(
    ("parameter", "refused"),
    [
        ("detection_level", lambda: binomial_sample_size(Decimal(0), C95, 1.0)),
        ("detection_level", lambda: poisson_sample_size(Decimal("1.01"), C95, 1.0)),
        ("detection_level", lambda: poisson_sample_size(Decimal("1e-10"), C95, 1.0)),
        ("sensitivity", lambda: binomial_sample_size(FIVE, C95, 0.0)),
        ("sensitivity", lambda: beta_binomial_miss(FIVE, 10, 1.01, 0.1)),
        ("confidence", lambda: binomial_sample_size(FIVE, Decimal(1), 1.0)),
        ("confidence", lambda: poisson_sample_size(FIVE, Decimal(0), 1.0)),
        ("confidence", lambda: upper_share(10, Decimal(1), 1.0)),
        ("confidence", lambda: upper_share(0, Decimal(1), 1.0)),
        ("confidence", lambda: beta_binomial_sample_size(FIVE, Decimal(1), 1.0, 0.1)),
        ("sensitivity", lambda: upper_share(10, C95, 0.0)),
        ("sample_size", lambda: upper_share(-1, C95, 1.0)),
        ("sample_size", lambda: upper_share(10_000_001, C95, 1.0)),
        ("sample_size", lambda: binomial_miss(FIVE, -1, 1.0)),
        ("sample_size", lambda: binomial_miss(FIVE, 10_000_001, 1.0)),
        ("sample_size", lambda: beta_binomial_miss(FIVE, -1, 1.0, 0.1)),
        ("sample_size", lambda: beta_binomial_miss(FIVE, 10_000_001, 1.0, 0.1)),
        ("intra_lot_correlation", lambda: beta_binomial_miss(FIVE, 10, 1.0, -0.1)),
        ("intra_lot_correlation", lambda: beta_binomial_sample_size(FIVE, C95, 1.0, 1.0)),
    ],
)
def test_figures_that_make_no_plan_are_refused(parameter: str, refused: Callable[[], object]) -> None:
    with pytest.raises(OutOfDomain) as refusal:
        refused()
    assert refusal.value.parameter == parameter
