"""Simulated trials whose truth is known: what the stated 95 % intervals and the word "better" are worth."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pytest

from service.trials.rules_result import BETTER_BELOW, ArmCount, StageResult, Tally, stage_result
from tests.soak import figure

TRIALS = figure(gate=2000, full=20_000)
LOWEST, HIGHEST = 0.94, 0.97
NOISE = 3.0  # deviations of the mean of so many trials that no run of a sound rule leaves


@dataclass(frozen=True)
class World:
    """How simulated trials are: tubs an arm, animals a tub, how alike those of one tub fare."""

    tubs: int
    animals: int
    correlation: float


@dataclass(frozen=True)
class Simulated:
    """Shares over many trials: intervals that hold the truth, trials that call a wrong arm better."""

    kills_held: float
    corrected_held: float
    wrongly_better: float
    some_better: float


def one_arm(chance: np.random.Generator, name: str, kill: float, world: World) -> ArmCount:
    """An arm of tubs whose own kill scatters about the true one (beta-binomial)."""
    tallies = []
    for _ in range(world.tubs):
        left = 1 - kill
        if world.correlation and 0 < left < 1:
            worth = (1 - world.correlation) / world.correlation
            left = chance.beta(left * worth, (1 - left) * worth)
        tallies.append(Tally(world.animals, int(chance.binomial(world.animals, left)), 0, 7))
    return ArmCount(name, name == "control", tuple(tallies))


def simulate(seed: int, world: World, *, alike: bool) -> Simulated:
    """Many trials of three treatments and a control; `alike`: all four kill the same."""
    chance = np.random.default_rng(seed)
    kills: list[bool] = []
    corrected: list[bool] = []
    wrong = better = 0
    for _ in range(TRIALS):
        truth = _truth(chance, alike=alike)
        found = stage_result(
            "bladder_snail", "adult", [one_arm(chance, name, kill, world) for name, kill in truth.items()]
        )
        assert found is not None
        kills += [_holds(kill.share.low, truth[kill.count.arm], kill.share.high) for kill in found.kills]
        corrected += _corrected_held(found, truth)
        called = [(pair.better, *sorted((pair.first, pair.second))) for pair in found.compared if pair.better]
        better += bool(called)
        wrong += any(truth[name] <= min(truth[one], truth[two]) for name, one, two in called if name)
    return Simulated(float(np.mean(kills)), float(np.mean(corrected)), wrong / TRIALS, better / TRIALS)


def _truth(chance: np.random.Generator, *, alike: bool) -> dict[str, float]:
    if alike:
        return dict.fromkeys(("control", "a", "b", "c"), chance.uniform(0.2, 0.8))
    return {"control": chance.uniform(0, 0.15), **{name: chance.uniform(0.3, 0.97) for name in "abc"}}


def _holds(low: float, truth: float, high: float) -> bool:
    return low - 1e-12 <= truth <= high + 1e-12


def _corrected_held(found: StageResult, truth: dict[str, float]) -> Sequence[bool]:
    spared = 1 - truth["control"]
    return [
        _holds(
            kill.corrected.interval.low,
            1 - (1 - truth[kill.count.arm]) / spared,
            kill.corrected.interval.high,
        )
        for kill in found.kills
        if kill.corrected is not None and kill.corrected.interval is not None
    ]


WORLDS = {
    "one tub an arm, animals independent": World(1, 40, 0.0),
    "three tubs an arm, alike by 0.05": World(3, 20, 0.05),
    "four tubs an arm, alike by 0.1": World(4, 10, 0.1),
}


@pytest.mark.soak
@pytest.mark.parametrize("name", WORLDS)
def test_the_stated_intervals_hold_the_truth_in_94_to_97_per_cent(name: str) -> None:
    found = simulate(20_260_302, WORLDS[name], alike=False)
    assert LOWEST <= found.kills_held <= HIGHEST
    assert LOWEST <= found.corrected_held <= HIGHEST
    assert found.some_better > 0.5  # the trials are not merely silent


@pytest.mark.soak
@pytest.mark.parametrize("name", WORLDS)
def test_a_wrong_arm_is_called_better_in_no_more_than_the_stated_share(name: str) -> None:
    noise = NOISE * (BETTER_BELOW * (1 - BETTER_BELOW) / TRIALS) ** 0.5
    assert simulate(7, WORLDS[name], alike=True).wrongly_better <= BETTER_BELOW + noise


def test_a_rule_that_forgets_the_tubs_would_be_found_out() -> None:
    world = World(2, 30, 0.2)
    chance = np.random.default_rng(3)
    held = 0
    for _ in range(400):
        arm = one_arm(chance, "a", 0.6, world)
        merged = ArmCount("a", False, (Tally(arm.before, arm.after, 0, 7),))
        found = stage_result("x", "adult", [merged])
        assert found is not None
        held += _holds(found.kills[0].share.low, 0.6, found.kills[0].share.high)
    assert held / 400 < 0.8
