"""What sampling plans keep to whatever the lot, and scipy's sums beside ours."""

import math
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from service.science import sampling
from service.science.sampling import miss_probability, sample_size, upper_infested

C95 = Decimal("0.95")

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


@given(LOTS, SENSITIVITIES, CONFIDENCES)
def test_more_units_looked_at_never_prove_less(
    lot: tuple[int, int, int], sensitivity: float, confidence: Decimal
) -> None:
    lot_size, _, drawn = lot
    assume(drawn < lot_size)
    fewer = upper_infested(lot_size, drawn, sensitivity, confidence)
    assert upper_infested(lot_size, drawn + 1, sensitivity, confidence) <= fewer
