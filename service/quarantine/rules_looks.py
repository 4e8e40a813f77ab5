"""Which clean looks count towards the end of quarantine, and which are still owed."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from service.quarantine.rules import ADULT_METHODS
from service.science.readings import Reading
from service.science.sampling import infested_units, miss_probability, sample_size, sampling_plan

A_NIGHT = timedelta(hours=20)  # two baits that far apart were left on two nights


@dataclass(frozen=True)
class LookPlan:
    """How many units a look must take in, and how many looks how far apart.

    `water_counts`: the units cannot be counted (moss, portions, mats), so looks at the water count too.
    `again_after`: how long the last of them speaks for a lot that waits.
    """

    every_unit_up_to: int
    detection_level: Decimal
    confidence: Decimal
    sensitivity: float
    water_counts: bool
    looks: int
    apart: timedelta
    again_after: timedelta


@dataclass(frozen=True)
class LooksOwed:
    """The moment of the last look needed: made (`next_at` is None) or still to come, and the next one due."""

    last_at: datetime
    next_at: datetime | None


@dataclass(frozen=True)
class Proposed:
    """A look: how many units, for how many infested ones, and the chance to find one of these."""

    sample_size: int
    infested_units_assumed: int
    achieved_confidence: float


def proposed(lot_size: int, plan: LookPlan) -> Proposed:
    """The look to make at a lot of at least one unit.

    One infested unit is assumed as long as such a look can find it with the confidence asked or all units are
    looked at, else as many as the policy's level of detection says.
    """
    size, infested = units_needed(lot_size, plan), 1
    if size < lot_size and sample_size(lot_size, 1, plan.confidence, plan.sensitivity) is None:
        infested = infested_units(lot_size, plan.detection_level)
    achieved = 1 - miss_probability(lot_size, infested, size, plan.sensitivity)
    return Proposed(size, infested, achieved)


def units_needed(lot_size: int, plan: LookPlan) -> int:
    """Units that one look must take in: every one in small lots, above it a plan for one infested unit.

    Where a single infested unit cannot be found with the confidence asked, the plan is for the policy's level
    of detection (sampling with imperfect sensitivity, exact hypergeometric).
    """
    if lot_size <= plan.every_unit_up_to:
        return lot_size
    single = sample_size(lot_size, 1, plan.confidence, plan.sensitivity)
    if single is not None:
        return single
    return sampling_plan(lot_size, plan.detection_level, plan.confidence, plan.sensitivity).sample_size


def look_counts(method: str, sample: int, lot_size: int, *, full: bool, plan: LookPlan) -> bool:
    """True when a clean look is one of those that clearance asks for; a look at all units always is."""
    if method in ADULT_METHODS:
        return plan.water_counts
    return full or (lot_size > 0 and sample >= units_needed(lot_size, plan))


def looks_owed(counted: Sequence[datetime], last_from: datetime, plan: LookPlan, now: datetime) -> LooksOwed:
    """What is owed of `plan.looks` clean looks, `plan.apart` apart, the last of them from `last_from` on.

    When all were made, but the last of them longer ago than `plan.again_after`, one more is.
    """
    spaced = _spaced(counted, plan.apart, plan.looks - 1)
    ready = spaced[-1] + plan.apart if spaced else None
    missing = plan.looks - 1 - len(spaced)
    if missing:
        wanted = last_from - missing * plan.apart
        next_at = max(wanted, ready) if ready else wanted
        return LooksOwed(max(last_from, max(next_at, now) + missing * plan.apart), next_at)
    earliest = max(last_from, ready) if ready else last_from
    made = [look for look in sorted(counted) if look >= earliest]
    if not made:
        return LooksOwed(max(earliest, now), earliest)
    again_at = made[-1] + plan.again_after
    return LooksOwed(made[0], None) if now < again_at else LooksOwed(now, again_at)


def nights_owed(nights: Sequence[datetime], last_from: datetime, needed: int, now: datetime) -> LooksOwed:
    """What is owed of `needed` clean baits, each of another night, the last when all can be seen.

    Common practice, no source: who hides by day is only found by night.
    """
    if not needed:
        return LooksOwed(last_from, None)
    spaced = _spaced(nights, A_NIGHT, needed - 1)
    missing = needed - 1 - len(spaced)
    ready = max([last_from - missing * A_NIGHT, *(night + A_NIGHT for night in spaced[-1:])])
    made = [night for night in sorted(nights) if night >= max(ready, last_from)]
    if made and not missing:
        return LooksOwed(made[0], None)
    return LooksOwed(max(ready, now) + missing * A_NIGHT, ready)


def nights_apart(nights: Sequence[datetime], most: int) -> int:
    """How many of these baits, at most `most`, were left on nights of their own."""
    return len(_spaced(nights, A_NIGHT, most))


@dataclass(frozen=True)
class Void:
    """That so many looks no longer count, the last at a moment: a new generation could be laid from then."""

    looks: int
    last_at: datetime
    new_laying_from: datetime


def voided(moments: Sequence[datetime], valid: Collection[datetime], longest: timedelta) -> Void | None:
    """The looks that a warm gap made void, None when all count."""
    lost = sorted(set(moments) - set(valid))
    return Void(len(lost), lost[-1], lost[-1] + longest) if lost else None


def new_laying_from(valid: Collection[datetime], longest: timedelta) -> datetime | None:
    """From when on a new generation could be laid without another look; the looks so far count until then.

    Three weeks from the last look that counts, in warm water: assumption, as for `since_warm_gap`.
    """
    return max(valid) + longest if valid else None


def since_warm_gap(
    moments: Sequence[datetime], longest: timedelta, readings: Sequence[Reading], warm_c: float
) -> list[datetime]:
    """The looks that still count: those since the last gap in which a new generation could have been laid.

    Such a gap is longer than `longest`, with water of `warm_c` or more in it, or with no reading at all.
    """
    counted: list[datetime] = []
    for moment in sorted(moments):
        if counted and moment - counted[-1] > longest and _is_warm(counted[-1], moment, readings, warm_c):
            counted = []
        counted.append(moment)
    return counted


def _is_warm(since: datetime, until: datetime, readings: Sequence[Reading], warm_c: float) -> bool:
    inside = [reading.celsius for reading in readings if since <= reading.at <= until]
    return max(inside, default=warm_c) >= warm_c


def _spaced(counted: Sequence[datetime], apart: timedelta, most: int) -> list[datetime]:
    found: list[datetime] = []
    for look in sorted(counted):
        if len(found) < most and (not found or look - found[-1] >= apart):
            found.append(look)
    return found
