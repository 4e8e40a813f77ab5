"""What a trial adds to what is known: units that share a tub, a kill credited by evidence, an eye tested."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy.special import betaincinv

from service.science.domain import not_negative, positive, within
from service.science.proportions import LEAST_CONFIDENCE, MOST_UNITS, Interval, exact_interval

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


def dispersion(arms: Sequence[Sequence[tuple[float, float]]]) -> float | None:
    """How much more tubs of one arm differ than chance would make them, pooled over the arms.

    Each arm is its tubs as (count, total). Pearson's X² over its degrees of freedom, each arm about its own
    share (McCullagh and Nelder, Generalized Linear Models, 2nd ed. 1989, 4.5): 1 for independent units. None
    when no arm has two tubs and a share between none and all.
    """
    square, freedom = 0.0, 0
    for tubs in arms:
        for count, total in tubs:
            within("total", total, 1, MOST_UNITS)
            within("count", count, 0, total)
        units = math.fsum(total for _, total in tubs)
        killed = math.fsum(count for count, _ in tubs)
        if len(tubs) < 2 or not 0 < killed < units:
            continue
        share = killed / units
        square += sum((count - total * share) ** 2 / (total * share * (1 - share)) for count, total in tubs)
        freedom += len(tubs) - 1
    return square / freedom if freedom else None


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
