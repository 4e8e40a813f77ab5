"""How well a treatment worked: the kill corrected by the control, what no survivor proves, methods compared.

One core under several names: E = 1 - (treated after / before) / (control after / before), in living units.
Schneider-Orelli's formula is Abbott's in dead, Sun and Shepard's is Henderson and Tilton's in shares.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

from scipy.special import betainc, betaincinv

from service.science.domain import OutOfDomain, not_negative, positive, within
from service.science.proportions import (
    LEAST_CONFIDENCE,
    MOST_UNITS,
    Interval,
    fisher_exact,
    holm,
    risk_ratio,
    two_sided_factor,
)
from service.science.searching import doubled_until, first_that_holds

# Common practice: a trial whose control loses more than a fifth says nothing of the treatment.
MOST_CONTROL_MORTALITY = 0.20
FEWEST_LOTS_FOR_A_SHARE = 10  # common practice: below, a per cent looks surer than it is
MOST_TREATED = 10**14
TIE = 1e-12


@dataclass(frozen=True)
class Trial:
    """A treatment with its control: living units before and after in both.

    Units of one tub count for less than whole ones, so counts need not be whole.
    `followed`: the same units were counted twice, so that none can be added; else two independent counts.
    """

    treated_before: float
    treated_after: float
    control_before: float
    control_after: float
    followed: bool


@dataclass(frozen=True)
class Efficacy:
    """Corrected efficacy, a share: below 0 when the treated fared worse. No interval where none is sound.

    `control_sound`: no more than a fifth of the control died; else the trial is to be repeated.
    """

    efficacy: float
    interval: Interval | None
    control_mortality: float
    control_sound: bool


@dataclass(frozen=True)
class Comparison:
    """Two methods by name, the two-sided P of Fisher's test, and the same corrected for all pairs (Holm)."""

    first: str
    second: str
    chance: float
    corrected: float


def henderson_tilton(
    treated_before: float, treated_after: float, control_before: float, control_after: float
) -> float:
    """1 - (Ta Cb) / (Tb Ca), living counts, groups of any size (J. Econ. Entomol. 48, 1955, 157-161)."""
    positive("treated_before", treated_before)
    positive("control_before", control_before)
    not_negative("treated_after", treated_after)
    not_negative("control_after", control_after)
    if control_after == 0:
        raise OutOfDomain("control_after", "The control died out: nothing can be said of the treatment.")
    return 1 - (treated_after / treated_before) / (control_after / control_before)


def abbott(treated_living: float, control_living: float) -> float:
    """(x - y) / x, x and y living in check and treated, of equal starts (J. Econ. Entomol. 18, 1925, 265)."""
    not_negative("treated_living", treated_living)
    positive("control_living", control_living)
    return henderson_tilton(1, treated_living, 1, control_living)


def efficacy(trial: Trial, confidence: float = 0.95) -> Efficacy:
    """The corrected efficacy of a trial with its interval, and whether its control can be trusted."""
    found = henderson_tilton(
        trial.treated_before, trial.treated_after, trial.control_before, trial.control_after
    )
    if trial.followed:
        within("treated_after", trial.treated_after, 0, trial.treated_before)
        within("control_after", trial.control_after, 0, trial.control_before)
    mortality = 1 - trial.control_after / trial.control_before
    return Efficacy(found, _interval(trial, confidence), mortality, mortality <= MOST_CONTROL_MORTALITY + TIE)


def delta_interval(trial: Trial, confidence: float = 0.95) -> Interval:
    """The efficacy with limits by the delta method, on the log of what is left.

    Var ln R = 1/Ta + 1/Tb + 1/Ca + 1/Cb for independent counts (Poisson), 1/Ta - 1/Tb + 1/Ca - 1/Cb for units
    that were followed (binomial; Katz and others, Biometrics 34, 1978). OutOfDomain when none is left.
    """
    positive("treated_after", trial.treated_after)
    left = 1 - henderson_tilton(
        trial.treated_before, trial.treated_after, trial.control_before, trial.control_after
    )
    sign = -1 if trial.followed else 1
    before = 1 / trial.treated_before + 1 / trial.control_before
    after = 1 / trial.treated_after + 1 / trial.control_after
    spread = math.exp(two_sided_factor(confidence) * math.sqrt(max(0.0, after + sign * before)))
    return Interval(1 - left, 1 - left * spread, 1 - left / spread)


def kills_required(required_kill: float, confidence: float, survivors: int = 0) -> int:
    """Fewest units to treat to prove a kill (a share): for no survivor n = ceil(ln(1-C) / ln p).

    With survivors the smallest n with P(at most s of n survive) <= 1 - C, binomial (Couey and Chew,
    J. Econ. Entomol. 79, 1986, 887-890).
    """
    within("required_kill", required_kill, LEAST_CONFIDENCE, 1 - LEAST_CONFIDENCE)
    within("confidence", confidence, LEAST_CONFIDENCE, 1 - LEAST_CONFIDENCE)
    within("survivors", survivors, 0, 1000)

    def enough(treated: int) -> bool:
        return float(betainc(treated - survivors, survivors + 1, required_kill)) <= 1 - confidence + TIE

    high = doubled_until(lambda units: enough(survivors + units), MOST_TREATED)
    return first_that_holds(enough, low=survivors, high=survivors + high)


def kill_proved(treated: int, survivors: int, confidence: float) -> float:
    """The kill that a trial proves, one-sided: (1-C)^(1/n) when none survives, Clopper and Pearson's else."""
    within("treated", treated, 1, MOST_UNITS)
    within("survivors", survivors, 0, treated)
    within("confidence", confidence, LEAST_CONFIDENCE, 1 - LEAST_CONFIDENCE)
    if survivors == treated:
        return 0.0
    return float(betaincinv(treated - survivors, survivors + 1, 1 - confidence))


def compare_methods(results: Mapping[str, tuple[int, int]]) -> tuple[Comparison, ...]:
    """All pairs of methods, each as (units it failed on, units treated): Fisher a pair, Holm over all."""
    pairs = tuple(combinations(results, 2))
    chances = [fisher_exact(*results[first], *results[second]).two_sided for first, second in pairs]
    return tuple(
        Comparison(first, second, chance, corrected)
        for (first, second), chance, corrected in zip(pairs, chances, holm(chances), strict=True)
    )


def share_may_be_shown(lots: int) -> bool:
    """Whether a result over so many lots may be told in per cent; below ten it is told in counts."""
    not_negative("lots", lots)
    return lots >= FEWEST_LOTS_FOR_A_SHARE


def _interval(trial: Trial, confidence: float) -> Interval | None:
    if trial.followed:
        left = risk_ratio(
            trial.treated_after, trial.treated_before, trial.control_after, trial.control_before, confidence
        )
        return Interval(1 - left.estimate, 1 - left.high, 1 - left.low)
    return delta_interval(trial, confidence) if trial.treated_after else None
