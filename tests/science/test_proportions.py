"""Intervals and tests of shares: what they keep to whatever the counts, and what they refuse."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from service.science.domain import OutOfDomain
from service.science.proportions import (
    ExactTest,
    Interval,
    effective_sample_size,
    exact_interval,
    fisher_exact,
    holm,
    risk_ratio,
    share_difference,
    two_sided_factor,
    units_per_arm,
    wilson_interval,
)

COUNTS = st.integers(1, 300).flatmap(lambda total: st.tuples(st.integers(0, total), st.just(total)))
BOTH = pytest.mark.parametrize("interval", [wilson_interval, exact_interval])


def test_the_factor_is_two_sided() -> None:
    assert two_sided_factor(0.95) == pytest.approx(1.959963985)
    assert two_sided_factor(0.5) == pytest.approx(0.67448975)


@BOTH
@given(counts=COUNTS, confidence=st.floats(0.5, 0.999))
def test_intervals_hold_the_estimate_and_widen_with_confidence(
    interval: Callable[[int, int, float], Interval], counts: tuple[int, int], confidence: float
) -> None:
    count, total = counts
    found = interval(count, total, confidence)
    wider = interval(count, total, (1 + confidence) / 2)
    assert found.estimate == count / total
    assert 0 <= wider.low <= found.low <= found.estimate <= found.high <= wider.high <= 1
    assert (found.low == 0) == (count == 0)
    assert (found.high == 1) == (count == total)


@BOTH
@given(counts=COUNTS)
def test_intervals_shrink_with_more_units_and_mirror(
    interval: Callable[[int, int], Interval], counts: tuple[int, int]
) -> None:
    count, total = counts
    found, doubled = interval(count, total), interval(2 * count, 2 * total)
    assert doubled.high - doubled.low < found.high - found.low
    mirrored = interval(total - count, total)
    assert mirrored.low == pytest.approx(1 - found.high, abs=1e-12)
    assert mirrored.high == pytest.approx(1 - found.low, abs=1e-12)


@given(COUNTS)
def test_the_exact_interval_leaves_half_the_rest_on_each_side(counts: tuple[int, int]) -> None:
    count, total = counts
    found = exact_interval(count, total, 0.9)
    assert count == total or stats.binom.cdf(count, total, found.high) == pytest.approx(0.05, rel=1e-6)
    assert count == 0 or stats.binom.sf(count - 1, total, found.low) == pytest.approx(0.05, rel=1e-6)


@given(COUNTS, COUNTS)
def test_fisher_is_symmetric_and_no_chance_is_above_one(
    first: tuple[int, int], second: tuple[int, int]
) -> None:
    found, turned = fisher_exact(*first, *second), fisher_exact(*second, *first)
    assert found.two_sided == pytest.approx(turned.two_sided)
    assert found.less == pytest.approx(turned.greater)
    assert found.less + found.greater > 1 - 1e-12
    assert max(found.two_sided, found.less, found.greater) <= 1
    assert min(found.less, found.greater) <= found.two_sided + 1e-12
    expected = stats.fisher_exact([[first[0], first[1] - first[0]], [second[0], second[1] - second[0]]])
    assert found.two_sided == pytest.approx(expected.pvalue, rel=1e-8)


def test_tables_as_likely_as_the_one_seen_count() -> None:
    # 3 of 6 against 0 of 6: as likely as 0 of 6 against 3 of 6, 20/220 each.
    assert fisher_exact(3, 6, 0, 6).two_sided == pytest.approx(2 / 11)
    assert fisher_exact(3, 6, 0, 6).greater == pytest.approx(1 / 11)


def test_groups_without_any_are_alike() -> None:
    assert fisher_exact(0, 5, 0, 7) == ExactTest(1.0, 1.0, 1.0)


@given(COUNTS, COUNTS.filter(lambda counts: counts[0] > 0), st.floats(0.5, 0.99))
def test_a_ratio_lies_within_its_limits(
    first: tuple[int, int], second: tuple[int, int], confidence: float
) -> None:
    found = risk_ratio(*first, *second, confidence)
    wider = risk_ratio(*first, *second, (1 + confidence) / 2)
    assert found.estimate == pytest.approx(first[0] / first[1] / (second[0] / second[1]))
    slack = 1 + 1e-9
    assert 0 <= wider.low <= found.low * slack
    assert found.low <= found.estimate * slack
    assert found.estimate <= found.high * slack
    assert found.high <= wider.high * slack
    assert (found.low == 0) == (first[0] == 0)


def test_limits_of_two_full_groups_are_those_of_the_score() -> None:
    # All of both: the limit r solves (1 - r)^2 = z^2 r (1 - r) / n, so r = n / (n + z^2).
    found = risk_ratio(30, 30, 30, 30, 0.95)
    z = two_sided_factor(0.95)
    assert found.estimate == 1
    assert found.low == pytest.approx(30 / (30 + z * z))
    assert found.high == pytest.approx((30 + z * z) / 30)


def test_none_in_the_first_group_has_an_upper_limit() -> None:
    found = risk_ratio(0, 40, 9, 40, 0.95)
    assert (found.estimate, found.low) == (0, 0)
    assert found.high == pytest.approx(0.398599, abs=1e-6)


@given(COUNTS, COUNTS)
def test_a_difference_lies_within_its_limits_and_turns(
    first: tuple[int, int], second: tuple[int, int]
) -> None:
    found, turned = share_difference(*first, *second), share_difference(*second, *first)
    assert -1 - 1e-12 <= found.low <= found.estimate <= found.high <= 1 + 1e-12
    assert turned.low == pytest.approx(-found.high)
    assert share_difference(*first, *second, 0.5).high <= found.high


def test_holm_steps_down_and_keeps_the_order() -> None:
    assert holm([0.01, 0.04, 0.03]) == pytest.approx((0.03, 0.06, 0.06))
    assert holm([0.6, 0.7]) == (1, 1)
    assert holm([0.2]) == (0.2,)
    assert holm([]) == ()


@given(st.lists(st.floats(0, 1), max_size=12))
def test_corrected_chances_are_never_smaller_and_in_the_same_order(chances: list[float]) -> None:
    corrected = holm(chances)
    assert all(raw <= better <= 1 for raw, better in zip(chances, corrected, strict=True))
    ordered = [value for _, value in sorted(zip(chances, corrected, strict=True))]
    assert ordered == sorted(ordered)


@pytest.mark.parametrize(
    ("units", "in_cluster", "correlation", "worth"),
    [(60, 1, 0.5, 60), (60, 20, 0.0, 60), (60, 20, 1.0, 3), (60, 11, 0.1, 30), (60, 60, 1.0, 1)],
)
def test_clustered_units_are_worth_less(
    units: int, in_cluster: float, correlation: float, worth: float
) -> None:
    assert effective_sample_size(units, in_cluster, correlation) == pytest.approx(worth)


def test_plants_for_a_trial() -> None:
    # 0.95 against 0.70, power 0.8: 31.3, by hand.
    assert units_per_arm(0.95, 0.70, 0.95, 0.8) == 32
    assert units_per_arm(0.70, 0.95, 0.95, 0.8) == 32
    # The whole range: h = pi, 2 (z / pi)^2 with even power.
    assert units_per_arm(1, 0, 0.95, 0.5) == math.ceil(2 * (1.959964 / math.pi) ** 2) == 1


@given(st.floats(0.01, 0.99), st.floats(0.01, 0.99), st.floats(0.5, 0.98))
def test_more_power_and_a_smaller_difference_need_more_plants(
    first: float, second: float, power: float
) -> None:
    if abs(first - second) < 0.01:
        return
    needed = units_per_arm(first, second, 0.95, power)
    assert units_per_arm(first, second, 0.95, power + 0.01) >= needed
    assert units_per_arm(first, second, 0.99, power) >= needed
    assert units_per_arm(first, (first + second) / 2, 0.95, power) >= needed


@pytest.mark.parametrize(
    ("parameter", "refused"),
    [
        ("confidence", lambda: two_sided_factor(0)),
        ("confidence", lambda: two_sided_factor(1)),
        ("count", lambda: wilson_interval(-1, 10)),
        ("count", lambda: wilson_interval(11, 10)),
        ("count_total", lambda: wilson_interval(0, 0)),
        ("count_total", lambda: exact_interval(0, 10_000_001)),
        ("confidence", lambda: wilson_interval(1, 10, 1.0)),
        ("count", lambda: exact_interval(11, 10)),
        ("confidence", lambda: exact_interval(0, 10, 0.0)),
        ("first", lambda: fisher_exact(6, 5, 1, 5)),
        ("first_total", lambda: fisher_exact(0, 0, 1, 5)),
        ("second", lambda: fisher_exact(1, 5, 6, 5)),
        ("second_total", lambda: fisher_exact(1, 5, 0, 0)),
        ("first", lambda: risk_ratio(6, 5, 1, 5, 0.95)),
        ("second", lambda: risk_ratio(1, 5, 6, 5, 0.95)),
        ("second", lambda: risk_ratio(1, 5, 0, 5, 0.95)),
        ("confidence", lambda: risk_ratio(1, 5, 1, 5, 1.0)),
        ("chances", lambda: holm([0.5, 1.1])),
        ("chances", lambda: holm([-0.1])),
        ("units", lambda: effective_sample_size(0, 1, 0.1)),
        ("units", lambda: effective_sample_size(10_000_001, 1, 0.1)),
        ("units_in_cluster", lambda: effective_sample_size(10, 0.5, 0.1)),
        ("units_in_cluster", lambda: effective_sample_size(10, 11, 0.1)),
        ("intra_cluster_correlation", lambda: effective_sample_size(10, 2, -0.1)),
        ("intra_cluster_correlation", lambda: effective_sample_size(10, 2, 1.1)),
        ("first_share", lambda: units_per_arm(1.1, 0.5, 0.95, 0.8)),
        ("second_share", lambda: units_per_arm(0.5, -0.1, 0.95, 0.8)),
        ("second_share", lambda: units_per_arm(0.5, 0.5, 0.95, 0.8)),
        ("power", lambda: units_per_arm(0.5, 0.6, 0.95, 0.49)),
        ("power", lambda: units_per_arm(0.5, 0.6, 0.95, 1.0)),
        ("confidence", lambda: units_per_arm(0.5, 0.6, 1.0, 0.8)),
    ],
)
def test_counts_that_cannot_be_are_refused(parameter: str, refused: Callable[[], object]) -> None:
    with pytest.raises(OutOfDomain) as refusal:
        refused()
    assert refusal.value.parameter == parameter
