"""The arithmetic of a course that holds a dose: what is left, what a re-dose needs, when the next is due."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from service.science.solutions import after_water_change, decayed_mg_per_l

DAY_S = 86400.0
HOUSE_RHYTHM = (3, 4)  # days between water changes in quarantine, in turn: twice a week, common practice


@dataclass(frozen=True)
class Level:
    """The level of a substance at a moment, in mg/L, as dosed by calculation or as measured."""

    at: datetime
    mg_per_l: float


@dataclass(frozen=True)
class Redose:
    """A water change of a course: mg/L before it, after it, and what must be added to be at the target."""

    before_mg_per_l: float
    after_mg_per_l: float
    add_mg_per_l: float
    extra_change: float | None

    @property
    def needed(self) -> bool:
        """Whether anything is to be dosed."""
        return self.add_mg_per_l > 0


def before_change(levels: Sequence[Level], at: datetime, decay_per_day: float) -> float:
    """What the water holds at `at`: the last level known, less first-order loss since; 0 when none is."""
    known = sorted((level for level in levels if level.at <= at), key=lambda level: level.at)
    if not known:
        return 0.0
    last = known[-1]  # of one moment the one given last
    return decayed_mg_per_l(last.mg_per_l, decay_per_day, (at - last.at).total_seconds() / DAY_S)


def redose(before_mg_per_l: float, fraction: float, target_mg_per_l: float) -> Redose:
    """What a change of `fraction` of the water leaves, and the dose that brings it back to the target.

    max(0, T - C_after); above the target nothing is dosed and `extra_change` says what further share of
    water would bring it down.
    """
    after = after_water_change(before_mg_per_l, fraction)
    add = max(0.0, target_mg_per_l - after)
    extra = 1 - target_mg_per_l / after if after > target_mg_per_l else None
    return Redose(before_mg_per_l, after, add, extra)


def next_change(rhythm: Mapping[str, Any] | None, changes: int, last_at: datetime) -> datetime:
    """When the next water is due after `changes` changes, the last at `last_at`; the house rhythm if none."""
    every = (rhythm or {}).get("every_days") or HOUSE_RHYTHM
    return last_at + timedelta(days=every[changes % len(every)])


def changes_to_come(
    rhythm: Mapping[str, Any] | None, changes: int, last_at: datetime, until: datetime
) -> list[datetime]:
    """Every change still due before `until`."""
    found: list[datetime] = []
    at = next_change(rhythm, changes, last_at)
    while at < until:
        found.append(at)
        at = next_change(rhythm, changes + len(found), at)
    return found
