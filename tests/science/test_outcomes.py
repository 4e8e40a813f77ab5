"""Corrected efficacy, proofs without a survivor, and methods compared."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.domain import OutOfDomain
from service.science.outcomes import (
    Comparison,
    Trial,
    abbott,
    compare_methods,
    delta_interval,
    efficacy,
    henderson_tilton,
    kill_proved,
    kills_required,
    share_may_be_shown,
)
from service.science.proportions import Interval, fisher_exact, risk_ratio

COUNT = st.integers(1, 1000)


def schneider_orelli(treated_dead: float, control_dead: float) -> float:
    """Its formula in per cent dead."""
    return (treated_dead - control_dead) / (100 - control_dead)


def sun_shepard(treated_dead: float, control_change: float) -> float:
    """Its formula in per cent dead and per cent change of the control."""
    return (treated_dead + control_change) / (100 + control_change)


@pytest.mark.parametrize(
    ("counts", "found"),
    [
        ((300, 12, 320, 280), 0.95428571),
        ((30, 6, 28, 26), 0.78461538),
        ((100, 4, 320, 400), 0.968),  # a control that grows
        ((100, 95, 100, 90), -0.05555556),  # worse than none: shown as it is
        ((100, 0, 100, 90), 1.0),
        ((100, 100, 100, 100), 0.0),
    ],
)
def test_efficacy_is_what_the_control_leaves_of_the_kill(
    counts: tuple[int, int, int, int], found: float
) -> None:
    # Worked by hand: 1 - (Ta / Tb) / (Ca / Cb).
    assert henderson_tilton(*counts) == pytest.approx(found, abs=1e-8)


@given(st.floats(0, 100), st.floats(0, 95))
def test_abbott_is_schneider_orelli_in_living(treated_dead: float, control_dead: float) -> None:
    living = abbott(1 - treated_dead / 100, 1 - control_dead / 100)
    assert living == pytest.approx(schneider_orelli(treated_dead, control_dead), abs=1e-9)


@given(COUNT, st.integers(0, 1000), COUNT, COUNT)
def test_henderson_tilton_is_sun_shepard_in_shares(
    treated_before: int, treated_after: int, control_before: int, control_after: int
) -> None:
    treated_dead = 100 * (1 - treated_after / treated_before)
    change = 100 * (control_after / control_before - 1)
    found = henderson_tilton(treated_before, treated_after, control_before, control_after)
    assert found == pytest.approx(sun_shepard(treated_dead, change), abs=1e-9)
    assert found <= 1


@given(COUNT, COUNT, COUNT)
def test_groups_of_one_size_are_abbotts(before: int, treated_after: int, control_after: int) -> None:
    found = henderson_tilton(before, treated_after, before, control_after)
    assert found == pytest.approx(abbott(treated_after / before, control_after / before))


def test_counted_twice_independently_the_interval_is_poissons() -> None:
    # Worked: sqrt(1/12 + 1/300 + 1/280 + 1/320) = 0.305554 on the log of what is left.
    trial = Trial(300, 12, 320, 280, followed=False)
    found = delta_interval(trial)
    assert found.estimate == pytest.approx(0.95428571)
    assert (found.low, found.high) == pytest.approx((0.916797, 0.974883), abs=1e-6)
    assert efficacy(trial).interval == found
    assert efficacy(trial, 0.8).interval == delta_interval(trial, 0.8) != found


def test_followed_units_vary_less() -> None:
    counted = delta_interval(Trial(300, 12, 320, 280, followed=False))
    followed = delta_interval(Trial(300, 12, 320, 280, followed=True))
    spread = math.sqrt(1 / 12 - 1 / 300 + 1 / 280 - 1 / 320)
    assert followed.low == pytest.approx(1 - (1 - followed.estimate) * math.exp(1.959963985 * spread))
    assert counted.low < followed.low < followed.estimate < followed.high < counted.high
    whole = delta_interval(Trial(10, 10, 20, 20, followed=True))
    assert whole == Interval(0, 0, 0)


def test_followed_units_have_the_score_interval_of_what_is_left() -> None:
    found = efficacy(Trial(60, 3, 60, 54, followed=True))
    left = risk_ratio(3, 60, 54, 60, 0.95)
    assert found.interval == Interval(1 - left.estimate, 1 - left.high, 1 - left.low)
    assert found.efficacy == pytest.approx(0.94444444)
    assert efficacy(Trial(60, 3, 60, 54, followed=True), 0.5).interval != found.interval


def test_no_survivor_has_an_interval_only_when_followed() -> None:
    followed = efficacy(Trial(40, 0, 40, 36, followed=True))
    assert followed.efficacy == 1
    assert followed.interval is not None
    assert (followed.interval.estimate, followed.interval.high) == (1, 1)
    assert 0.85 < followed.interval.low < 1
    assert efficacy(Trial(40, 0, 40, 36, followed=False)).interval is None


@pytest.mark.parametrize(
    ("control_after", "mortality", "sound"),
    [(50, 0.0, True), (40, 0.2, True), (39, 0.22, False), (60, -0.2, True)],
)
def test_a_control_that_dies_spoils_the_trial(control_after: int, mortality: float, sound: bool) -> None:
    found = efficacy(Trial(50, 5, 50, control_after, followed=False))
    assert found.control_mortality == pytest.approx(mortality)
    assert found.control_sound is sound


@given(st.floats(0.01, 0.9999), st.floats(0.5, 0.999), st.integers(0, 4))
def test_the_number_is_enough_and_the_proof_is_the_kill(
    kill: float, confidence: float, survivors: int
) -> None:
    size = kills_required(kill, confidence, survivors)
    assert size > survivors
    assert kill_proved(size, survivors, confidence) >= kill - 1e-6
    assert size == survivors + 1 or kill_proved(size - 1, survivors, confidence) < kill + 1e-6
    assert kills_required(kill, confidence, survivors + 1) > size
    assert kills_required(kill, (1 + confidence) / 2, survivors) >= size


def test_a_proof_that_is_reached_exactly_is_enough() -> None:
    assert kills_required(0.5, 0.75) == 2
    assert kills_required(0.5, 0.5) == 1
    assert kills_required(0.5, 0.7501) == 3


@pytest.mark.parametrize(
    ("kill", "size_95", "size_99"),
    [(0.9999, 29_956, 46_050), (0.999968, 93_616, 143_910), (0.9999683287581669, 94_587, 145_404)],
)
def test_the_highest_demands_need_very_many(kill: float, size_95: int, size_99: int) -> None:
    # ceil(ln(1 - C) / ln p), worked.
    assert kills_required(kill, 0.95) == size_95
    assert kills_required(kill, 0.99) == size_99


def test_the_farthest_demand_is_still_answered() -> None:
    size = kills_required(1 - 1e-9, 1 - 1e-9, 1000)
    assert 1.1e12 < size < 1.3e12


@pytest.mark.parametrize(("treated", "proved"), [(1, 0.05), (50, 0.94184488), (60, 0.95129709)])
def test_all_dead_proves_less_than_all(treated: int, proved: float) -> None:
    # (1 - C)^(1/n).
    assert kill_proved(treated, 0, 0.95) == pytest.approx(proved)


def test_all_alive_proves_nothing() -> None:
    assert kill_proved(5, 5, 0.95) == 0
    assert kill_proved(5, 4, 0.95) > 0


def test_methods_are_compared_in_pairs_and_corrected_together() -> None:
    found = compare_methods({"dip": (3, 60), "bath": (14, 60), "none": (30, 60)})
    assert [(pair.first, pair.second) for pair in found] == [
        ("dip", "bath"),
        ("dip", "none"),
        ("bath", "none"),
    ]
    chances = [fisher_exact(3, 60, 14, 60), fisher_exact(3, 60, 30, 60), fisher_exact(14, 60, 30, 60)]
    assert [pair.chance for pair in found] == [chance.two_sided for chance in chances]
    # Smallest first: dip and none three times, bath and none twice, dip and bath no less than that.
    assert found[1].corrected == pytest.approx(3 * found[1].chance)
    assert found[2].corrected == pytest.approx(2 * found[2].chance)
    assert found[2].corrected == found[0].corrected > found[0].chance


def test_two_methods_need_no_correction_and_one_no_comparison() -> None:
    (only,) = compare_methods({"dip": (3, 60), "bath": (14, 60)})
    assert only == Comparison("dip", "bath", only.chance, only.chance)
    assert compare_methods({"dip": (3, 60)}) == ()


@pytest.mark.parametrize(("lots", "shown"), [(0, False), (9, False), (10, True), (11, True)])
def test_few_lots_are_told_in_counts(lots: int, shown: bool) -> None:
    assert share_may_be_shown(lots) is shown


@pytest.mark.parametrize(
    ("parameter", "refused"),
    [
        ("treated_before", lambda: henderson_tilton(0, 1, 1, 1)),
        ("treated_after", lambda: henderson_tilton(1, -1, 1, 1)),
        ("control_before", lambda: henderson_tilton(1, 1, 0, 1)),
        ("control_after", lambda: henderson_tilton(1, 1, 1, -1)),
        ("control_after", lambda: henderson_tilton(1, 1, 1, 0)),
        ("control_living", lambda: abbott(0.5, 0)),
        ("treated_living", lambda: abbott(-0.5, 1)),
        ("treated_after", lambda: efficacy(Trial(10, 11, 10, 10, followed=True))),
        ("control_after", lambda: efficacy(Trial(10, 10, 10, 11, followed=True))),
        ("treated_after", lambda: delta_interval(Trial(10, 0, 10, 10, followed=False))),
        ("control_after", lambda: delta_interval(Trial(10, 1, 10, 0, followed=False))),
        ("confidence", lambda: delta_interval(Trial(10, 1, 10, 9, followed=False), 1.0)),
        ("required_kill", lambda: kills_required(1.0, 0.95)),
        ("required_kill", lambda: kills_required(0.0, 0.95)),
        ("confidence", lambda: kills_required(0.9, 1.0)),
        ("survivors", lambda: kills_required(0.9, 0.95, -1)),
        ("survivors", lambda: kills_required(0.9, 0.95, 1001)),
        ("treated", lambda: kill_proved(0, 0, 0.95)),
        ("treated", lambda: kill_proved(10_000_001, 0, 0.95)),
        ("survivors", lambda: kill_proved(5, 6, 0.95)),
        ("survivors", lambda: kill_proved(5, -1, 0.95)),
        ("confidence", lambda: kill_proved(5, 5, 1.0)),
        ("lots", lambda: share_may_be_shown(-1)),
        ("first", lambda: compare_methods({"dip": (61, 60), "bath": (14, 60)})),
    ],
)
def test_trials_that_cannot_be_are_refused(parameter: str, refused: Callable[[], object]) -> None:
    with pytest.raises(OutOfDomain) as refusal:
        refused()
    assert refusal.value.parameter == parameter


def test_a_control_that_died_out_is_told_as_such() -> None:
    with pytest.raises(OutOfDomain, match=r"^The control died out: nothing can be said of the treatment\.$"):
        efficacy(Trial(10, 1, 10, 0, followed=True))
