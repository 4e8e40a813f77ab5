"""How many units to look at, and what a clean look proves: hypergeometric, thinned by the look's sensitivity.

Methods of ISPM 31; an infested unit that is looked at is found with probability `sensitivity`.
"""

import math
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from service.science.domain import OutOfDomain, share, within
from service.science.hypergeometric import log_none_drawn, log_probabilities
from service.science.searching import doubled_until, first_that_holds

LARGEST_LOT = 10_000_000
LEAST_CONFIDENCE = Decimal("1e-9")  # and as far from certainty: a chance below is no plan
LEAST_SENSITIVITY = 1e-9
TIE = 1e-12  # a plan that reaches the confidence exactly is enough, whatever the last bit says

FORMULA = (
    "smallest n with sum over k of C(D,k) C(N-D,n-k) / C(N,n) (1-s)^k <= 1-C, "
    "D = floor(detection level x N), at least 1"
)
SOURCE = "ISPM 31, Methodologies for sampling of consignments: hypergeometric, acceptance number 0"


@dataclass(frozen=True)
class SamplingPlan:
    """How many units of a lot to look at, how often, and what that achieves.

    Where one look cannot reach the confidence (`reachable` false), the sample is the whole lot, and
    `looks_needed` independent looks at all of it reach it together; `achieved_confidence` is that of one.
    """

    sample_size: int
    reachable: bool
    looks_needed: int
    achieved_confidence: float
    infested_units_assumed: int
    lot_size: int
    detection_level: Decimal
    confidence: Decimal
    sensitivity: float


def infested_units(lot_size: int, detection_level: Decimal) -> int:
    """Units infested at the detection level: rounded down, exactly, and at least 1."""
    within("lot_size", lot_size, 1, LARGEST_LOT)
    share("detection_level", detection_level)
    return max(1, math.floor(Fraction(detection_level) * lot_size))


def miss_probability(lot_size: int, infested: int, sample_size: int, sensitivity: float) -> float:
    """Chance that a look at a random sample finds none of the infested units."""
    _refuse_outside(lot_size, infested, sample_size, sensitivity)
    if sensitivity == 1:
        return math.exp(log_none_drawn(lot_size, infested, sample_size))
    missed = math.log1p(-sensitivity)
    return math.fsum(
        math.exp(log_probability + drawn * missed)
        for drawn, log_probability in log_probabilities(lot_size, infested, sample_size)
    )


def sample_size(lot_size: int, infested: int, confidence: Decimal, sensitivity: float) -> int | None:
    """Fewest units to look at to miss all infested with at most 1 - confidence; None if all are too few.

    Bisection below the bound (N/s) (1 - (1-C)^(1/D)), which never asks for too few.
    """
    allowed = allowed_miss(confidence)
    if miss_probability(lot_size, infested, lot_size, sensitivity) > allowed:
        return None
    bound = lot_size / sensitivity * -math.expm1(math.log(float(1 - confidence)) / infested)
    return first_that_holds(
        lambda size: miss_probability(lot_size, infested, size, sensitivity) <= allowed,
        low=0,
        high=min(lot_size, math.ceil(bound) + 1),
    )


def sampling_plan(
    lot_size: int, detection_level: Decimal, confidence: Decimal, sensitivity: float
) -> SamplingPlan:
    """The plan for a lot; OutOfDomain for figures that make none."""
    infested = infested_units(lot_size, detection_level)
    size = sample_size(lot_size, infested, confidence, sensitivity)
    looks = 1 if size is not None else _looks_at_all(infested, confidence, sensitivity)
    look_at = lot_size if size is None else size
    return SamplingPlan(
        sample_size=look_at,
        reachable=size is not None,
        looks_needed=looks,
        achieved_confidence=1 - miss_probability(lot_size, infested, look_at, sensitivity),
        infested_units_assumed=infested,
        lot_size=lot_size,
        detection_level=detection_level,
        confidence=confidence,
        sensitivity=sensitivity,
    )


def acceptance_probability(
    lot_size: int, infested: int, sample_size: int, sensitivity: float, acceptance_number: int
) -> float:
    """Chance that a look finds at most `acceptance_number` infested units, though `infested` are there.

    P(X <= c) = sum over k of H(k) times the binomial probability of at most c out of k with the sensitivity.
    """
    _refuse_outside(lot_size, infested, sample_size, sensitivity)
    _refuse_acceptance(infested, acceptance_number)
    return math.fsum(
        math.exp(log_probability) * _at_most(acceptance_number, drawn, sensitivity)
        for drawn, log_probability in log_probabilities(lot_size, infested, sample_size)
    )


def sample_size_with_acceptance(
    lot_size: int, infested: int, confidence: Decimal, sensitivity: float, acceptance_number: int
) -> int | None:
    """As `sample_size`, for a lot that passes with up to `acceptance_number` units found."""
    allowed = allowed_miss(confidence)

    def enough(size: int) -> bool:
        return acceptance_probability(lot_size, infested, size, sensitivity, acceptance_number) <= allowed

    if not enough(lot_size):
        return None
    return first_that_holds(enough, low=0, high=doubled_until(enough, lot_size))


def upper_infested(lot_size: int, sample_size: int, sensitivity: float, confidence: Decimal) -> int:
    """Most infested units that a clean look still allows for at this confidence: 0 proves freedom at it."""
    _refuse_outside(lot_size, 1, sample_size, sensitivity)
    allowed = allowed_miss(confidence)

    def excluded(infested: int) -> bool:
        return (
            infested > lot_size or miss_probability(lot_size, infested, sample_size, sensitivity) <= allowed
        )

    return first_that_holds(excluded, low=0, high=doubled_until(excluded, lot_size + 1)) - 1


def least_census_sensitivity(infested: int, confidence: Decimal) -> float:
    """Least sensitivity with which one look at all units finds one of the infested: 1 - (1-C)^(1/D)."""
    within("infested", infested, 1, LARGEST_LOT)
    refuse_confidence(confidence)
    return -math.expm1(math.log(float(1 - confidence)) / infested)


def refuse_confidence(confidence: Decimal) -> None:
    """Refuse a confidence that is none, or certainty; OutOfDomain."""
    within("confidence", confidence, LEAST_CONFIDENCE, 1 - LEAST_CONFIDENCE)


def allowed_miss(confidence: Decimal) -> float:
    """The chance to miss that a plan may have, a tie included; OutOfDomain."""
    refuse_confidence(confidence)
    return float(1 - confidence) + TIE


def _looks_at_all(infested: int, confidence: Decimal, sensitivity: float) -> int:
    missed_once = infested * math.log1p(-sensitivity)
    return math.ceil(math.log(float(1 - confidence)) / missed_once - TIE)


def _at_most(most: int, drawn: int, sensitivity: float) -> float:
    if drawn <= most:
        return 1.0
    if sensitivity == 1:
        return 0.0
    log_term = drawn * math.log1p(-sensitivity)
    log_odds = math.log(sensitivity) - math.log1p(-sensitivity)
    terms = [math.exp(log_term)]
    for found in range(most):
        log_term += math.log((drawn - found) / (found + 1)) + log_odds
        terms.append(math.exp(log_term))
    return math.fsum(terms)


def _refuse_outside(lot_size: int, infested: int, sample_size: int, sensitivity: float) -> None:
    within("lot_size", lot_size, 1, LARGEST_LOT)
    within("infested", infested, 1, lot_size)
    within("sample_size", sample_size, 0, lot_size)
    within("sensitivity", sensitivity, LEAST_SENSITIVITY, 1)


def _refuse_acceptance(infested: int, acceptance_number: int) -> None:
    if not 0 <= acceptance_number < infested:
        raise OutOfDomain(
            "acceptance_number",
            f"acceptance_number must be 0 or more and below the {infested} infested units assumed, "
            f"not {acceptance_number}.",
        )
