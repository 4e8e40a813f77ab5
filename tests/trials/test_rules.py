"""Days, sizes and allocation as plain functions."""

import itertools
from collections import Counter
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.trials.rules import (
    Power,
    When,
    allocate,
    layout_reasons,
    plan_warnings,
    schedule,
    schedule_days,
    shuffled,
    treatment_reasons,
    units_needed,
    units_of_power,
)

START = datetime(2026, 3, 2, 9, tzinfo=UTC)
DAYS = schedule_days(30)


def states(observed: dict[int, float], now: float, *, closed: bool = False) -> list[str]:
    seen = {day: START + timedelta(days=at) for day, at in observed.items()}
    found = schedule(DAYS, START, seen, START + timedelta(days=now), closed=closed)
    return [look.state.value for look in found]


def test_a_trial_is_looked_at_on_day_0_day_3_and_twice_a_week_to_its_end() -> None:
    assert DAYS == (0, 3, 7, 10, 14, 17, 21, 24, 28, 30)
    assert schedule_days(28) == (0, 3, 7, 10, 14, 17, 21, 24, 28)
    assert schedule_days(3) == (0, 3)
    assert schedule_days(4) == (0, 3, 4)


@given(st.integers(3, 120))
def test_no_two_looks_are_more_than_four_days_apart(days: int) -> None:
    found = schedule_days(days)
    assert found[-1] == days
    assert all(0 < later - one <= 4 for one, later in itertools.pairwise(found))


def test_late_and_missed_looks_show() -> None:
    assert states({0: 0.1, 3: 4.5}, 14.5)[:6] == ["done", "late", "missed", "missed", "due", "to_come"]
    assert states({}, 34)[-1] == When.MISSED


def test_a_closed_trial_owes_no_look() -> None:
    assert states({0: 0}, 8, closed=True)[:4] == ["done", "missed", "missed", "to_come"]


def test_units_that_share_a_tub_are_worth_less() -> None:
    power = Power(0.95, 0.70, 0.95, 0.8, 0.1)
    assert units_needed(power, 1) == 32  # sampling.md 4.3: 31.3, so 32
    assert units_needed(power, 8) == 55  # 32 x (1 + 7 x 0.1) = 54.4
    assert units_of_power(power, 32) == 32


def test_the_size_found_is_enough_for_the_tubs_it_is_shared_over() -> None:
    power = Power(0.9, 0.5, 0.95, 0.8, 0.05)
    for tubs in (1, 2, 3, 4):
        units = units_of_power(power, tubs)
        assert units_needed(power, -(-units // tubs)) <= units


def test_what_can_never_be_told_apart_in_one_tub_ends_at_the_most() -> None:
    assert units_of_power(Power(0.5, 0.45, 0.95, 0.8, 0.5), 1) == 5000


@given(
    st.integers(0, 2**31),
    st.integers(2, 5),
    st.integers(1, 4),
    st.lists(st.integers(1, 6), min_size=1, max_size=3),
)
def test_every_arm_gets_as_many_tubs_and_units_and_every_unit_a_place(
    seed: int, arms: int, tubs_per_arm: int, per_tub: list[int]
) -> None:
    sources = [arms * tubs_per_arm * units for units in per_tub]
    found = allocate(seed, arms, arms * tubs_per_arm, sources)
    assert set(Counter(found.arm_of_tub).values()) == {tubs_per_arm}
    for source, units in enumerate(per_tub):
        shares = Counter(unit.tub for unit in found.units if unit.source == source)
        assert shares == dict.fromkeys(range(arms * tubs_per_arm), units)
        assert [u.number for u in found.units if u.source == source] == list(range(1, sources[source] + 1))
    assert len({unit.label for unit in found.units}) == sum(sources)


def test_units_that_do_not_divide_evenly_still_give_every_arm_as_many() -> None:
    found = allocate(3, 2, 4, [10])
    arms = Counter(found.arm_of_tub[unit.tub] for unit in found.units)
    assert arms == {0: 5, 1: 5}


def test_another_seed_gives_another_allocation_and_each_order_is_as_likely() -> None:
    first = Counter(shuffled(seed, "tubs", 4)[0] for seed in range(2000))
    assert all(430 < first[place] < 570 for place in range(4))  # 500 expected, 3.6 deviations of 19.4
    assert allocate(1, 2, 4, [8]) != allocate(2, 2, 4, [8])


@pytest.mark.parametrize(
    ("layout", "pointer"),
    [
        ((1, 1, 2, 4), "#/arms"),
        ((3, 2, 3, 4), "#/arms"),
        ((2, 1, 3, 4), "#/tub_ids"),
        ((2, 1, 0, 4), "#/tub_ids"),
        ((2, 1, 6, 2), "#/units_per_arm"),
    ],
)
def test_a_layout_that_is_no_trial(layout: tuple[int, int, int, int], pointer: str) -> None:
    [reason] = layout_reasons(*layout)
    assert reason.pointer == pointer


def test_a_sound_layout_has_nothing_against_it() -> None:
    assert layout_reasons(4, 1, 8, 12) == []
    assert layout_reasons(2, 0, 2, 1) == []


def test_what_a_layout_cannot_give_is_said() -> None:
    sound = plan_warnings(controls=1, tubs_per_arm=2, needed=12, units=12, blind=True)
    assert sound == []
    poor = plan_warnings(controls=0, tubs_per_arm=1, needed=12, units=11, blind=False)
    assert [one.code for one in poor] == ["no-control", "one-tub-per-arm", "too-few-units", "not-blind"]
    assert plan_warnings(controls=1, tubs_per_arm=2, needed=None, units=1, blind=True) == []


def test_a_trial_s_lot_is_treated_as_its_arm_says_with_its_own_alone() -> None:
    own: dict[str, Any] = {"arm": "alum", "arm_version": "v1", "method": "alum_soak"}
    assert treatment_reasons("L1", **own, version="v1", others_in_it=[]) == []
    codes = [r.code for r in treatment_reasons("L1", **own, version="v2", others_in_it=["L9"])]
    assert codes == ["not-this-arm", "not-of-this-tub"]
    control: dict[str, Any] = {"arm": "control", "arm_version": None, "version": "q1", "others_in_it": []}
    assert treatment_reasons("L1", **control, method="quarantine_only") == []
    assert treatment_reasons("L1", **control, method="salt_dip")[0].needed == "quarantine_only"
