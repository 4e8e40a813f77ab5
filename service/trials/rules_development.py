"""Whether refitted thresholds of a pest's eggs may stand in place of the published ones: rules to be read."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from statistics import fmean

from service.core.reasons import Reason
from service.science.development import Development, Reading, rate, variants
from service.science.domain import OutOfDomain
from service.science.refit import Refit, refit, refit_limits

# Assumptions, until the nursery knows better; the reasons below say each in words.
FEWEST_MASSES = 12
FEWEST_DEGREES = 4.0  # from the coldest to the warmest
END_WIDTH, FEWEST_AT_END = 1.0, 3  # masses within so many °C of the coldest, and of the warmest
COVERED = 0.9  # of a mass's time must be known by the log, as for the quarantine of a lot
STEADY = 2.0  # °C that a mass's water may have swung about its mean: the line holds for steady ones
WIDEST_THRESHOLD, WIDEST_CONSTANT = 3.0, 0.25  # half the 95 % interval: of T0 in °C, of K50 as a share
SHORTEST = 0.75  # of the published wait; less needs another reference, not a trial
FEWEST_TRIALS = 2  # before a wait may become shorter at all
WAITED_AT = tuple(range(15, 29))  # °C at which waits are compared: those that tubs have
TIE = 1e-9


@dataclass(frozen=True)
class Mass:
    """An egg mass whose laying and hatching were seen: mean °C and how far it swung, days; its trial.

    `celsius` is None without readings for it; `treated`: its tub had a treatment, which may delay or kill.
    """

    celsius: float | None
    swing: float
    days: float
    trial_id: str
    treated: bool = False


@dataclass(frozen=True)
class Fitted:
    """T0 and K50 of a pest from the masses that count; None with the reason when they can't be."""

    pest: str
    masses: tuple[Mass, ...]
    left_out: int
    fit: Refit | None
    why_not: str | None


def warmth(log: Sequence[Reading], start: datetime, end: datetime) -> tuple[float | None, float]:
    """The mean of what was read from laying to hatching and the farthest from it; None when nothing was."""
    found = [reading.celsius for reading in log if start <= reading.at <= end]
    if not found:
        return None, 0.0
    mean = fmean(found)
    return mean, max(abs(celsius - mean) for celsius in found)


def fitted(pest: str, seen: Sequence[Mass], optimum_c: float) -> Fitted:
    """T0 and K50 by `refit` from untreated masses in steady water below the optimum."""
    known = tuple(
        replace(mass, celsius=round(mass.celsius, 1))
        for mass in seen
        if mass.celsius is not None
        and not mass.treated
        and mass.swing <= STEADY
        and mass.celsius + mass.swing <= optimum_c
    )
    left_out = len(seen) - len(known)
    if not known:
        why = "No untreated mass developed in steady, measured water below the optimum."
        return Fitted(pest, (), left_out, None, why)
    try:
        fit = refit([(mass.celsius or 0.0, mass.days) for mass in known])
    except OutOfDomain as refused:
        return Fitted(pest, known, left_out, None, refused.sentence)
    return Fitted(pest, known, left_out, fit, None)


def refitted(found: Fitted, published: Development) -> Development:
    """The development by the fit, through its own mean, T0 within its 95 % limits; heat limits as published.

    OutOfDomain when there is no fit, it has no limits, or no egg could develop so.
    """
    if found.fit is None:
        raise OutOfDomain("observations", found.why_not or "")
    threshold, _ = refit_limits(found.fit)
    mean_rate = fmean(1 / mass.days for mass in found.masses)
    return Development(
        code=published.code,
        lower_threshold_c=found.fit.lower_threshold_c,
        thermal_constant_dd=found.fit.thermal_constant_dd,
        anchor_days=1 / mean_rate,
        anchor_c=fmean(mass.celsius or 0.0 for mass in found.masses),
        lower_threshold_range=(threshold.low, threshold.high),
        optimum_c=published.optimum_c,
        maximum_c=published.maximum_c,
    )


def development_reasons(found: Fitted, published: Development, factor: float) -> list[Reason]:
    """Everything against taking a fit over; `factor` is the policy's least multiple of the time to hatch."""
    if found.fit is None:
        return [Reason("no-fit", found.why_not or "")]
    try:
        own = refitted(found, published)
    except OutOfDomain as refused:
        return [Reason("no-fit", refused.sentence)]
    return [*_evidence(found, found.fit), *_safety(found, own, published, factor)]


def _evidence(found: Fitted, fit: Refit) -> Iterator[Reason]:
    masses, celsius = len(found.masses), [mass.celsius or 0.0 for mass in found.masses]
    if masses < FEWEST_MASSES:
        detail = f"{masses} egg masses were seen laid and hatched; {FEWEST_MASSES} are the fewest."
        yield Reason("too-few-masses", detail, needed=FEWEST_MASSES, have=masses)
    coldest, warmest = min(celsius), max(celsius)
    ends = [sum(abs(one - end) <= END_WIDTH + TIE for one in celsius) for end in (coldest, warmest)]
    if warmest - coldest < FEWEST_DEGREES - TIE or min(ends) < FEWEST_AT_END:
        detail = (
            f"They developed at {coldest:.1f} to {warmest:.1f} °C; it takes {FEWEST_DEGREES:.0f} °C between "
            f"the coldest and the warmest, and {FEWEST_AT_END} masses at either end."
        )
        yield Reason("too-narrow", detail)
    threshold, constant = refit_limits(fit)
    wide = (threshold.high - threshold.low) / 2, (constant.high - constant.low) / 2 / constant.estimate
    if wide[0] > WIDEST_THRESHOLD or wide[1] > WIDEST_CONSTANT:
        detail = (
            f"T0 is known to {wide[0]:.1f} °C and K50 to {wide[1]:.0%} only; "
            f"{WIDEST_THRESHOLD:.0f} °C and {WIDEST_CONSTANT:.0%} are the most."
        )
        yield Reason("too-uncertain", detail)


def _safety(found: Fitted, own: Development, published: Development, factor: float) -> Iterator[Reason]:
    late = [mass for mass in found.masses if mass.days > factor * median_days(mass.celsius or 0.0, own)]
    if late:
        detail = f"{len(late)} of these masses hatched later than the policy would wait ({factor:g} medians)."
        yield Reason("hatched-later", detail)
    share = shortest_share(own, published)
    if share < SHORTEST - TIE:
        detail = (
            f"The wait would be {share:.0%} of the published one; a trial shortens it to "
            f"{SHORTEST:.0%} at the most."
        )
        yield Reason("much-shorter", detail)
    elif share < 1 - TIE and len({mass.trial_id for mass in found.masses}) < FEWEST_TRIALS:
        detail = f"The wait would be {share:.0%} of the published one: that takes {FEWEST_TRIALS} trials."
        yield Reason("one-trial", detail)


def shortest_share(own: Development, published: Development) -> float:
    """The least share of the published wait that is left, over the temperatures that tubs have."""
    return min(median_days(celsius, own) / median_days(celsius, published) for celsius in WAITED_AT)


def median_days(celsius: float, development: Development) -> float:
    """Days until half the eggs have hatched at a steady temperature, the latest of the believable thresholds.

    Infinite where one of them lets no egg develop.
    """
    found = [(variant.thermal_constant_dd, rate(celsius, variant)) for variant in variants(development)]
    return max(needed / daily if daily else float("inf") for needed, daily in found)
