"""Which looks count, and which are owed. Sampling: ISPM 31 with imperfect sensitivity, exact."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.quarantine.rules_looks import (
    LookPlan,
    LooksOwed,
    Void,
    look_counts,
    looks_owed,
    new_laying_from,
    nights_owed,
    proposed,
    since_warm_gap,
    units_needed,
    voided,
)
from service.science.readings import Reading

START = datetime(2026, 3, 2, 9, tzinfo=UTC)


def day(days: float) -> datetime:
    return START + timedelta(days=days)


def plan(sensitivity: float = 0.8, *, water_counts: bool = False, looks: int = 2) -> LookPlan:
    return LookPlan(
        60,
        Decimal("0.05"),
        Decimal("0.95"),
        sensitivity,
        water_counts,
        looks,
        timedelta(days=3),
        timedelta(days=14),
    )


@pytest.mark.parametrize(
    ("lot_size", "sensitivity", "units"),
    [
        (1, 0.8, 1),
        (60, 0.8, 60),
        (61, 1.0, 58),  # one infested unit with certain eyes: n/N >= 0.95
        (200, 0.8, 64),  # D = 1 can't be reached at 0.8; D = 10: exact thinned hypergeometric, epiR agrees
        (100, 0.7, 64),  # D = 5, the same source
    ],
)
def test_small_lots_are_looked_at_whole_and_larger_ones_by_the_plan(
    lot_size: int, sensitivity: float, units: int
) -> None:
    assert units_needed(lot_size, plan(sensitivity)) == units


@pytest.mark.parametrize(
    ("lot_size", "sensitivity", "infested", "achieved"),
    [
        (40, 0.6, 1, 0.6),  # all are looked at: the one is found as often as a look finds it
        (61, 1.0, 1, 58 / 61),  # the chance that the one is among those drawn
        (61, 0.98, 1, 0.98 * 60 / 61),  # drawn, and then seen
        (200, 0.8, 10, 0.951),  # 5 %; the plan of 64 above reaches 95 % with the last unit it asks for
    ],
)
def test_a_proposal_says_for_how_many_infested_units_it_is_and_what_it_finds(
    lot_size: int, sensitivity: float, infested: int, achieved: float
) -> None:
    found = proposed(lot_size, plan(sensitivity))
    assert found.sample_size == units_needed(lot_size, plan(sensitivity))
    assert found.infested_units_assumed == infested
    assert found.achieved_confidence == pytest.approx(achieved, abs=2e-3)


@pytest.mark.parametrize(
    ("method", "sample", "lot_size", "full", "water_counts", "counts"),
    [
        ("eyes", 40, 40, True, False, True),
        ("eyes", 39, 40, False, False, False),
        ("eyes", 64, 200, False, False, True),
        ("eyes", 63, 200, False, False, False),
        ("eyes", 0, 0, False, True, False),
        ("eyes", 5, 0, True, True, True),
        ("strain", 0, 0, False, False, False),
        ("bait", 0, 0, False, True, True),
        ("bait_night", 0, 0, False, True, True),
    ],
)
def test_a_look_counts_when_it_takes_in_enough(
    method: str, sample: int, lot_size: int, full: bool, water_counts: bool, counts: bool
) -> None:
    found = look_counts(method, sample, lot_size, full=full, plan=plan(water_counts=water_counts))
    assert found is counts


@pytest.mark.parametrize(
    ("counted", "now", "owed"),
    [
        ([], 0, LooksOwed(day(30), day(27))),  # two looks to come, the first three days before
        ([], 40, LooksOwed(day(43), day(27))),  # overdue: from now on, three days apart
        ([5], 0, LooksOwed(day(30), day(30))),
        ([29], 29, LooksOwed(day(32), day(32))),
        ([29, 31], 31, LooksOwed(day(32), day(32))),  # too close together
        ([29, 31, 32], 33, LooksOwed(day(32), None)),
        ([29, 32, 35], 48.9, LooksOwed(day(32), None)),
        ([29, 32, 35], 49, LooksOwed(day(49), day(49))),  # the last was two weeks ago: one more
        ([29, 32, 35], 60, LooksOwed(day(60), day(49))),
        ([5, 29], 29.5, LooksOwed(day(30), day(30))),
        ([5, 31], 31, LooksOwed(day(31), None)),
        ([5, 29], 35, LooksOwed(day(35), day(30))),
    ],
)
def test_two_looks_three_days_apart_are_owed_the_last_when_all_can_be_seen(
    counted: list[float], now: float, owed: LooksOwed
) -> None:
    assert looks_owed([day(look) for look in counted], day(30), plan(), day(now)) == owed


@pytest.mark.parametrize(
    ("counted", "owed"),
    [
        ([], LooksOwed(day(30), day(24))),
        ([24], LooksOwed(day(30), day(27))),
        ([27], LooksOwed(day(33), day(30))),
        ([24, 27, 30], LooksOwed(day(30), None)),
        ([24, 24.2], LooksOwed(day(30), day(27))),  # two on one day are one
        ([24, 24.2, 30], LooksOwed(day(33), day(33))),
    ],
)
def test_a_policy_may_ask_for_more_looks(counted: list[float], owed: LooksOwed) -> None:
    assert looks_owed([day(look) for look in counted], day(30), plan(looks=3), day(0)) == owed


def test_one_look_is_enough_when_the_policy_says_so() -> None:
    assert looks_owed([day(31)], day(30), plan(looks=1), day(31)) == LooksOwed(day(31), None)


@given(
    looks=st.lists(st.integers(0, 60).map(day), min_size=1, max_size=6),
    last_from=st.integers(0, 60).map(day),
    now=st.integers(60, 90).map(day),
)
def test_a_look_that_was_not_made_never_brings_the_last_look_forward(
    looks: list[datetime], last_from: datetime, now: datetime
) -> None:
    more, less = looks_owed(looks, last_from, plan(), now), looks_owed(looks[1:], last_from, plan(), now)
    assert less.last_at >= more.last_at


THREE_WEEKS = timedelta(days=21)


def water(celsius: float, *days: float) -> list[Reading]:
    return [Reading(day(at), celsius) for at in days]


def test_a_warm_gap_voids_the_looks_before_it() -> None:
    moments = [day(at) for at in (40, 1, 5, 27)]
    assert since_warm_gap(moments, THREE_WEEKS, water(20, 10), 20) == [day(27), day(40)]


def test_a_gap_that_nobody_measured_is_taken_as_warm() -> None:
    moments = [day(5), day(27)]
    assert since_warm_gap(moments, THREE_WEEKS, [], 20) == [day(27)]
    assert since_warm_gap(moments, THREE_WEEKS, water(12, 4.9, 27.1), 20) == [day(27)]


def test_a_gap_of_the_longest_allowed_or_a_cold_one_voids_nothing() -> None:
    kept = [day(5), day(26)]
    assert since_warm_gap(kept, THREE_WEEKS, water(24, 10), 20) == kept
    moments = [day(5), day(27)]
    for edges in ((5,), (27,), (5, 16, 27)):
        assert since_warm_gap(moments, THREE_WEEKS, water(19.9, *edges), 20) == moments
        assert since_warm_gap(moments, THREE_WEEKS, water(20, *edges), 20) == [day(27)]


def test_what_a_gap_made_void_is_said_with_the_day_of_the_first_possible_new_laying() -> None:
    moments, valid = [day(1), day(5), day(27), day(40)], [day(27), day(40)]
    assert voided(moments, valid, THREE_WEEKS) == Void(2, day(5), day(26))
    assert voided(valid, valid, THREE_WEEKS) is None
    assert new_laying_from(valid, THREE_WEEKS) == day(61)
    assert new_laying_from([], THREE_WEEKS) is None


@pytest.mark.parametrize(
    ("nights", "needed", "now", "owed"),
    [
        ([], 0, 0, LooksOwed(day(30), None)),
        ([], 3, 0, LooksOwed(day(30), day(30 - 40 / 24))),  # two nights before the last one
        ([], 3, 40, LooksOwed(day(40 + 40 / 24), day(30 - 40 / 24))),
        ([10, 10.5, 20], 3, 21, LooksOwed(day(30), day(30))),  # the half day later was the same night
        ([10, 20, 29], 3, 29, LooksOwed(day(30), day(30))),  # the last before all can be seen
        ([10, 20, 30], 3, 31, LooksOwed(day(30), None)),
        ([29, 30, 31], 3, 32, LooksOwed(day(31), None)),
        ([30, 30.5], 3, 31, LooksOwed(day(31 + 20 / 24), day(30 + 20 / 24))),
        ([30], 1, 31, LooksOwed(day(30), None)),
    ],
)
def test_who_hides_by_day_is_baited_on_so_many_nights(
    nights: list[float], needed: int, now: float, owed: LooksOwed
) -> None:
    found = nights_owed([day(night) for night in nights], day(30), needed, day(now))
    assert (found.last_at, found.next_at is None) == (owed.last_at, owed.next_at is None)
    if found.next_at is not None and owed.next_at is not None:
        assert abs(found.next_at - owed.next_at) < timedelta(seconds=1)
