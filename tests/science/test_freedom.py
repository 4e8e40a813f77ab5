"""The chance that nothing is left: worked tables, laws that hold for all inputs, and a simulation."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science import freedom
from service.science.freedom import probability_of_freedom, unseen_shares

K50 = 136.0
PER_DAY = 12.1  # degree-days above 9 °C at 21.1 °C
GROWTH = 111 / 10.1 * PER_DAY  # 111 degree-days above 11 °C, in those above 9 °C
SE = (0.55, 0.20, 0.60)  # egg mass, hatchling, juvenile on a stem plant
WEEKLY = (7, 14, 21, 28, 35)
TWICE_WEEKLY = (3, 7, 10, 14, 17, 21, 24, 28, 31)


def unseen(
    days: tuple[float, ...], share: float = 1.0, hidden: float = 0.0, grown: float | None = None
) -> Any:
    hatched = np.array(days) * PER_DAY
    misses = np.tile([1 - share * se for se in SE], (len(days), 1))
    return unseen_shares(
        K50,
        hatched,
        hatched - GROWTH,
        misses,
        hidden_young=hidden,
        hidden_grown=hidden if grown is None else grown,
    )


def free(expected: float, shares: Any) -> float:
    return float(probability_of_freedom([expected], shares[None]))


@pytest.mark.parametrize(
    ("days", "share", "hidden", "mean", "chance"),
    [
        # Worked with a grid of 801 x 2001 by another program; differs by 1.2e-5 at most.
        ((7,), 1, 0, 0.451268, 0.893313),
        ((7,), 1, 0.05, 0.478704, 0.887207),
        ((7,), 0.5, 0.05, 0.739352, 0.831239),
        ((7, 14), 1, 0, 0.342339, 0.917937),
        ((7, 14), 1, 0.05, 0.375222, 0.910426),
        ((7, 14), 0.5, 0.05, 0.656126, 0.848695),
        ((7, 14, 21), 1, 0, 0.235214, 0.942840),
        ((7, 14, 21), 1, 0.05, 0.273453, 0.933874),
        ((7, 14, 21), 0.5, 0.05, 0.562472, 0.868785),
        ((7, 14, 21, 28), 1, 0, 0.094806, 0.976569),
        ((7, 14, 21, 28), 1, 0.05, 0.140065, 0.965583),
        ((7, 14, 21, 28), 0.5, 0.05, 0.409729, 0.902623),
        (WEEKLY, 1, 0, 0.037922, 0.990563),
        (WEEKLY, 1, 0.05, 0.086026, 0.978722),
        (WEEKLY, 0.5, 0.05, 0.301810, 0.927315),
        ((28,), 1, 0, 0.404443, 0.903822),
        ((28,), 1, 0.05, 0.434221, 0.897120),
        ((28,), 0.5, 0.05, 0.717111, 0.835872),
        ((28, 31), 1, 0, 0.161855, 0.960342),
        ((28, 31), 1, 0.05, 0.203762, 0.950333),
        ((28, 31), 0.5, 0.05, 0.517019, 0.878749),
        (TWICE_WEEKLY, 1, 0, 0.003244, 0.999189),
        (TWICE_WEEKLY, 1, 0.05, 0.053082, 0.986817),
        (TWICE_WEEKLY, 0.5, 0.05, 0.142692, 0.964955),
    ],
)
def test_looks_at_both_ends_of_quarantine_carry_the_proof(
    days: tuple[float, ...], share: float, hidden: float, mean: float, chance: float
) -> None:
    shares = unseen(days, share, hidden)
    assert shares.mean() == pytest.approx(mean, abs=5e-7)
    assert free(0.25, shares) == pytest.approx(chance, abs=5e-7)


def test_many_expected_units_need_the_lot_s_own_hatching_days() -> None:
    assert free(2, unseen(WEEKLY, 1, 0.05)) == pytest.approx(0.841872, abs=5e-7)


def test_eggs_brought_in_every_day_lower_the_chance() -> None:
    cohorts = [unseen(WEEKLY, 1, 0.05)]
    for day in range(35):
        days = tuple(look - day for look in WEEKLY if look > day)
        cohorts.append(unseen(days, 1, 0.05) if days else np.ones(41))
    chance = probability_of_freedom([0.25, *[0.002] * 35], np.stack(cohorts))
    assert float(chance) == pytest.approx(0.961552, abs=2e-6)


def test_a_simulation_of_lots_comes_to_the_same() -> None:
    """400,000 lots with a drawn number of units, each with its hatching day, looked at as written."""
    random, lots = np.random.default_rng(20260302), 400_000
    numbers = random.poisson(0.25, lots)
    of_lot = np.repeat(np.arange(lots), numbers)
    z, w = random.standard_normal(lots), random.standard_normal(of_lot.size)
    hatching = K50 * np.exp(freedom.SPREAD_BETWEEN_LOTS * z[of_lot] + 0.09 * w)
    hidden = random.random(of_lot.size) < 0.05
    found = np.zeros(lots, dtype=bool)
    for day in WEEKLY:
        credit = day * PER_DAY
        chance = np.where(hatching <= credit - GROWTH, SE[2], np.where(hatching <= credit, SE[1], SE[0]))
        np.logical_or.at(found, of_lot, (random.random(of_lot.size) < chance) & ~hidden)
    clean = ~found
    assert (numbers[clean] == 0).mean() == pytest.approx(free(0.25, unseen(WEEKLY, 1, 0.05)), abs=1e-3)


def test_no_look_proves_nothing() -> None:
    nothing = unseen_shares(
        K50, np.empty(0), np.empty(0), np.empty((0, 3)), hidden_young=0.05, hidden_grown=0.01
    )
    assert nothing == pytest.approx(np.ones(41))
    assert free(0.25, nothing) == pytest.approx(math.exp(-0.25))


def test_what_hides_young_is_seen_when_it_crawls() -> None:
    """With looks so late that all are grown, only the part never seen stays hidden."""
    late = unseen((365, 366, 367, 368, 369, 370, 371, 372), hidden=0.05, grown=0.01)
    assert late == pytest.approx(0.01 + 0.99 * 0.4**8, rel=1e-9)


def test_a_hidden_share_caps_what_looks_can_prove() -> None:
    certain = np.tile([0.0, 0.0, 0.0], (5, 1))
    seen_all = unseen_shares(K50, np.ones(5), np.ones(5), certain, hidden_young=0.05, hidden_grown=0.05)
    assert free(2, seen_all) == pytest.approx(freedom.highest_reachable([2], [0.05])) == math.exp(-0.1)
    assert freedom.highest_reachable([2, 1], [0.05, 0.01]) == pytest.approx(math.exp(-0.11))


def test_units_that_may_be_left_follow_from_the_same_weights() -> None:
    shares = np.full(41, 0.2)
    assert float(freedom.units_left([1.5], shares[None])) == pytest.approx(0.3)
    uneven = np.linspace(0, 1, 41)
    weights = np.exp(2 * uneven)
    assert float(freedom.units_left([2.0], uneven[None])) == pytest.approx(
        (2 * uneven * weights).sum() / weights.sum()
    )


def test_units_left_are_judged_lot_by_lot() -> None:
    unseen = np.stack([np.linspace(0, 1, 41)[None], np.linspace(0.2, 0.4, 41)[None]])
    together = freedom.units_left([[2.0], [300.0]], unseen)
    alone = [float(freedom.units_left([n], row)) for n, row in zip((2.0, 300.0), unseen, strict=True)]
    assert together == pytest.approx(alone)
    assert freedom.units_left([[2.0], [5000.0]], unseen)[1] == pytest.approx(2000, rel=0.01)


def test_very_many_units_do_not_overflow() -> None:
    assert free(5000, np.full(41, 0.5)) == 0.0
    assert 0 <= free(1500, unseen(WEEKLY)) < 1e-6


def test_a_whole_nursery_at_once_is_what_each_lot_is_alone() -> None:
    days = np.array([[7.0, 14, 21], [28, 31, 35], [3, 10, 40]])
    misses = np.broadcast_to([1 - se for se in SE], (3, 3, 3))
    medians = np.array([136.0, 126, 176])
    together = unseen_shares(
        medians, days * PER_DAY, days * PER_DAY - GROWTH, misses, hidden_young=0.05, hidden_grown=0.01
    )
    assert together.shape == (3, 41)
    for lot in range(3):
        alone = unseen_shares(
            medians[lot],
            days[lot] * PER_DAY,
            days[lot] * PER_DAY - GROWTH,
            misses[lot],
            hidden_young=0.05,
            hidden_grown=0.01,
        )
        assert together[lot] == pytest.approx(alone)
    chances = probability_of_freedom(np.full((3, 1), 0.25), together[:, None])
    assert chances == pytest.approx([free(0.25, row) for row in together])


CHANCES = st.floats(0, 1)
LOOKS = st.lists(st.tuples(st.floats(0, 60), CHANCES), min_size=1, max_size=6)


@given(LOOKS, st.tuples(st.floats(0, 60), CHANCES), st.floats(0, 5))
def test_another_clean_look_never_lowers_the_chance(
    looks: list[tuple[float, float]], more: tuple[float, float], expected: float
) -> None:
    before, after = (_with_looks(given) for given in (looks, [*looks, more]))
    assert np.all(after <= before + 1e-12)
    assert free(expected, after) >= free(expected, before) - 1e-12


def _with_looks(looks: list[tuple[float, float]]) -> Any:
    days = np.array([day for day, _ in looks])
    misses = np.array([[1 - share * se for se in SE] for _, share in looks])
    hatched = days * PER_DAY
    return unseen_shares(K50, hatched, hatched - GROWTH, misses, hidden_young=0.05, hidden_grown=0.01)


@given(LOOKS, st.randoms(use_true_random=False))
def test_the_order_of_looks_does_not_matter(looks: list[tuple[float, float]], random: Any) -> None:
    shuffled = random.sample(looks, len(looks))
    assert _with_looks(shuffled) == pytest.approx(_with_looks(looks))


@given(LOOKS, st.floats(0, 5), st.floats(0, 5))
def test_more_expected_units_never_raise_the_chance(
    looks: list[tuple[float, float]], expected: float, more: float
) -> None:
    shares = _with_looks(looks)
    assert free(expected + more, shares) <= free(expected, shares) + 1e-12
    assert free(expected, shares) >= math.exp(-expected) - 1e-12


@given(LOOKS, st.floats(0, 5))
def test_a_look_that_sees_nothing_changes_nothing(looks: list[tuple[float, float]], day: float) -> None:
    assert _with_looks([*looks, (day, 0.0)]) == pytest.approx(_with_looks(looks))


def test_the_plain_recursion_stays_at_nothing_once_nothing_is_believed() -> None:
    assert freedom.after_clean_look(0.0, 0.9) == 0.0
    assert freedom.after_clean_look(0.0, 1.0) == 0.0
    assert freedom.after_clean_look(1.0, 1.0) == 1.0


@given(st.floats(0.01, 1), CHANCES, CHANCES)
def test_the_plain_recursion_never_loses_by_a_clean_look(
    before: float, sensitivity: float, more: float
) -> None:
    low, high = sorted((sensitivity, more))
    assert freedom.after_clean_look(before, low) >= before - 1e-12
    assert freedom.after_clean_look(before, high) >= freedom.after_clean_look(before, low) - 1e-12
