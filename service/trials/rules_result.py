"""What a trial shows: kills with their intervals, corrected by the control, and arms compared."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from service.science.domain import OutOfDomain
from service.science.evidence import design_effect, dispersion
from service.science.outcomes import Efficacy, Trial, efficacy, kill_proved
from service.science.proportions import Interval, fisher_exact, holm, share_difference, wilson_interval
from service.trials.rules import ADULTS_READ_ON, Stage
from service.trials.rules_known import MASSES, Known, living

CONFIDENCE = 0.95
BETTER_BELOW = 0.05  # corrected P below which one arm is called better: the stated share of false calls
FOLLOWED = frozenset({Stage.EGG, Stage.ADULT})  # none can be added to those of day 0


@dataclass(frozen=True)
class Tally:
    """One tub's count of a stage: living before, living (or hatched) after, neither seen alive nor dead."""

    before: int
    after: int
    unaccounted: int
    day: int


@dataclass(frozen=True)
class ArmCount:
    """One arm's count of a pest's stage, tub by tub; `tubs_unread`: seen on day 0 and never again."""

    arm: str
    control: bool
    tallies: tuple[Tally, ...]
    tubs_unread: int = 0

    @property
    def before(self) -> int:
        """Living on day 0, in the tubs that were looked at again."""
        return sum(tally.before for tally in self.tallies)

    @property
    def after(self) -> int:
        """Living at the end, or hatched."""
        return sum(tally.after for tally in self.tallies)

    @property
    def unaccounted(self) -> int:
        """Gone: neither alive nor dead was found."""
        return sum(tally.unaccounted for tally in self.tallies)


@dataclass(frozen=True)
class Kill:
    """What an arm shows of a stage. `corrected` is None without a sound pair of counts; `why_not` says why.

    `proved` is the kill that the count proves at the confidence, one-sided and exact.
    """

    count: ArmCount
    share: Interval
    proved: float
    design_effect: float
    corrected: Efficacy | None
    why_not: str | None


@dataclass(frozen=True)
class Compared:
    """Two arms: the kill of the first less that of the second, Fisher's P and the same by Holm."""

    first: str
    second: str
    difference: Interval
    chance: float
    corrected: float

    @property
    def better(self) -> str | None:
        """The arm that killed more, where chance is no explanation; else None."""
        if self.corrected >= BETTER_BELOW or self.difference.estimate == 0:
            return None
        return self.first if self.difference.estimate > 0 else self.second


@dataclass(frozen=True)
class StageResult:
    """One pest's stage: what each arm shows and how the arms compare."""

    pest: str
    stage: str
    kills: tuple[Kill, ...]
    compared: tuple[Compared, ...]
    design_effect: float
    tubs_tell: bool


def tally(known: Known, labels: Sequence[str], pest: str, stage: str) -> Tally | None:
    """Count a tub by its own label and those of its units; None when none was counted again after day 0.

    Animals are read on the last look up to day 7, eggs on the last look.
    """
    found = [
        _read(days, stage)
        for label in labels
        for days in (known.counts.get((label, pest, stage), {}),)
        if 0 in days
    ]
    read = [one for one in found if one is not None]
    if not read:
        return None
    sums = [sum(values) for values in zip(*((t.before, t.after, t.unaccounted) for t in read), strict=True)]
    return Tally(sums[0], sums[1], sums[2], max(one.day for one in read))


def _read(days: Mapping[int, Mapping[str, Any]], stage: str) -> Tally | None:
    last = max(
        (day for day in days if day > 0 and (stage == Stage.EGG or day <= ADULTS_READ_ON)), default=None
    )
    if last is None:
        return None
    first, end = days[0], days[last]
    if stage == Stage.EGG:
        hatched = end["hatched"] - first["hatched"]
        seen = sum(end[look] - (first[look] if look in {"white", "hatched"} else 0) for look in MASSES)
        before = living(first)
        return Tally(before, min(hatched, before), max(0, before - seen), last)
    dead = sum(days[day]["dead"] for day in days if 0 < day <= last)
    return Tally(first["live"], end["live"], max(0, first["live"] - end["live"] - dead), last)


def stage_result(pest: str, stage: str, arms: Sequence[ArmCount]) -> StageResult | None:
    """Kills and comparisons of one stage; None when nothing was there to kill."""
    known = [arm for arm in arms if arm.before > 0]
    if not known:
        return None
    followed = stage in FOLLOWED
    found = dispersion([_clusters(arm) for arm in known]) if followed else None
    effect = design_effect(found, CONFIDENCE)
    control = next((arm for arm in known if arm.control), None)
    kills = tuple(_kill(arm, control, effect, followed=followed) for arm in known)
    compared = compare(known, effect) if followed else ()
    return StageResult(pest, stage, kills, compared, effect, found is not None)


def _clusters(arm: ArmCount) -> list[tuple[int, int]]:
    return [(tally.after, tally.before) for tally in arm.tallies if tally.before]


def _kill(arm: ArmCount, control: ArmCount | None, effect: float, *, followed: bool) -> Kill:
    dead = max(0, arm.before - arm.after)
    scale = min(effect, arm.before)
    share = wilson_interval(dead / scale, arm.before / scale, CONFIDENCE)
    units = max(1, round(arm.before / scale))
    proved = kill_proved(units, min(units, -(-(arm.before - dead) * units // arm.before)), CONFIDENCE)
    corrected, why_not = _corrected(arm, control, scale, followed=followed)
    return Kill(arm, share, proved, effect, corrected, why_not)


def _corrected(
    arm: ArmCount, control: ArmCount | None, scale: float, *, followed: bool
) -> tuple[Efficacy | None, str | None]:
    if arm.control:
        return None, "This is the control."
    if control is None:
        return None, "There is no control with such animals: nothing is corrected."
    smaller = min(scale, control.before)
    trial = Trial(
        arm.before / smaller, arm.after / smaller, control.before / smaller, control.after / smaller, followed
    )
    try:
        return efficacy(trial, CONFIDENCE), None
    except OutOfDomain as refused:
        return None, refused.sentence


def compare(arms: Sequence[ArmCount], effect: float) -> tuple[Compared, ...]:
    """Every pair of arms by the killed among those there were, each unit worth 1 / effect; Holm over all."""
    pairs = list(combinations(arms, 2))
    worth = {arm.arm: _worth(arm, effect) for arm in arms}
    chances = [fisher_exact(*worth[one.arm], *worth[other.arm]).two_sided for one, other in pairs]
    return tuple(
        Compared(
            one.arm,
            other.arm,
            share_difference(*worth[one.arm], *worth[other.arm], CONFIDENCE),
            chance,
            corrected,
        )
        for (one, other), chance, corrected in zip(pairs, chances, holm(chances), strict=True)
    )


def _worth(arm: ArmCount, effect: float) -> tuple[int, int]:
    """Killed and all, in whole independent units; what is lost in rounding never makes a kill."""
    units = max(1, int(arm.before / effect + 1e-9))
    return int(max(0, arm.before - arm.after) * units / arm.before + 1e-9), units
