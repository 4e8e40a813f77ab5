"""What a trial adds to what is known: units that share a tub, a kill credited by evidence, an eye tested."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy.special import betaincinv, stdtrit

from service.science.domain import not_negative, positive, within
from service.science.proportions import (
    LEAST_CONFIDENCE,
    MOST_UNITS,
    Interval,
    exact_interval,
    two_sided_factor,
)

NEVER_CERTAIN = 0.01  # a prior kill is held so far from none and all, or no trial could ever move it; assumed


@dataclass(frozen=True)
class BetaCredit:
    """A kill as a Beta distribution: so many units' worth of killed and of survivors."""

    killed: float
    survived: float

    def __post_init__(self) -> None:
        positive("killed", self.killed)
        positive("survived", self.survived)

    @property
    def kill(self) -> float:
        """The mean: the share that is credited."""
        return self.killed / (self.killed + self.survived)

    @property
    def weight(self) -> float:
        """Units' worth of evidence."""
        return self.killed + self.survived


@dataclass(frozen=True)
class Dispersion:
    """How much more tubs differ than chance makes them (1 for independent units), and how surely known."""

    ratio: float
    degrees_of_freedom: int


def dispersion(arms: Sequence[Sequence[tuple[float, float]]]) -> Dispersion | None:
    """How much tubs of one arm differ, pooled over the arms; each arm is its tubs as (count, total).

    Pearson's X² over its degrees of freedom, each arm about its own share (McCullagh and Nelder, Generalized
    Linear Models, 2nd ed. 1989, 4.5). None when no arm has two tubs and a share between none and all.
    """
    square, freedom = 0.0, 0
    for tubs in arms:
        for count, total in tubs:
            within("total", total, 1, MOST_UNITS)
            within("count", count, 0, total)
        units = math.fsum(total for _, total in tubs)
        counted = math.fsum(count for count, _ in tubs)
        if len(tubs) < 2 or not 0 < counted < units:
            continue
        share = counted / units
        square += sum((count - total * share) ** 2 / (total * share * (1 - share)) for count, total in tubs)
        freedom += len(tubs) - 1
    return Dispersion(square / freedom, freedom) if freedom else None


def design_effect(found: Dispersion | None, confidence: float = 0.95) -> float:
    """How many units of one tub are worth an independent one, 1 at least.

    The ratio times (t / z)²: known from few tubs it is itself uncertain, and Student's t in place of the
    normal quantile makes intervals so much wider. 1 where tubs differ no more than chance makes them.
    """
    z = two_sided_factor(confidence)
    if found is None or found.ratio <= 1:
        return 1.0
    t = float(stdtrit(found.degrees_of_freedom, (1 + confidence) / 2))
    return found.ratio * (t / z) ** 2


def prior_credit(kill: float, weight: float) -> BetaCredit:
    """A kill that was credited so far, as a Beta distribution worth so many units."""
    within("kill", kill, 0, 1)
    positive("weight", weight)
    held = min(max(kill, NEVER_CERTAIN), 1 - NEVER_CERTAIN)
    return BetaCredit(held * weight, (1 - held) * weight)


def updated_credit(
    prior: BetaCredit, treated: float, survivors: float, control_survival: float, design_effect: float = 1.0
) -> BetaCredit:
    """The credit after a trial: of the treated that would have lived untreated, so many were killed.

    Conjugate: Beta(a + killed, b + survived). The units are `treated x control_survival`, over the design
    effect; more survivors than that count as none killed, never as fewer than none.
    """
    not_negative("treated", treated)
    within("survivors", survivors, 0, treated)
    within("control_survival", control_survival, 0, 1)
    within("design_effect", design_effect, 1, MOST_UNITS)
    units = treated * control_survival
    left = min(survivors, units)
    return BetaCredit(prior.killed + (units - left) / design_effect, prior.survived + left / design_effect)


def credit_interval(credit: BetaCredit, confidence: float = 0.95) -> Interval:
    """The mean of a credit with equal tails of its Beta distribution."""
    within("confidence", confidence, LEAST_CONFIDENCE, 1 - LEAST_CONFIDENCE)
    tail = (1 - confidence) / 2
    low, high = (float(betaincinv(credit.killed, credit.survived, share)) for share in (tail, 1 - tail))
    return Interval(credit.kill, low, high)


def sensitivity_found(hidden: int, found: int, confidence: float = 0.95) -> Interval:
    """How well an eye finds: so many dummies found of those hidden, with Clopper and Pearson's limits."""
    within("hidden", hidden, 1, MOST_UNITS)
    within("found", found, 0, hidden)
    return exact_interval(found, hidden, confidence)
