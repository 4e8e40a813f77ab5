"""What a treatment did to the plants: how many live, how they look, what that says of their tolerance."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Any

from service.science.domain import OutOfDomain
from service.science.proportions import Interval, exact_interval
from service.science.survival import LogRank, Step, Watched, kaplan_meier, log_rank
from service.trials.rules_conditions import SCORES

CONFIDENCE = 0.95
# Assumptions, until the nursery knows better: when a plant counts as one that tolerates, or must avoid.
FEWEST_TO_JUDGE, FEWEST_TO_TOLERATE = 5, 10
TIE = 1e-9  # a tenth is a tenth, whatever the last bits say
LOST_TO_CAUTION, LOST_TO_AVOID = 0.10, 0.25  # share lost beyond the control's
SCORE_LOST_TO_CAUTION = 1.0  # mean points below the control's on the last look
Row = tuple[int, Mapping[str, Any]]  # the day and one unit's condition on it


@dataclass(frozen=True)
class Plants:
    """The units of one plant in one arm, with their conditions in the order of days."""

    arm: str
    control: bool
    plant_id: str
    plant: str
    labels: tuple[str, ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Scored:
    """The mean scores of one day, leaves grown emersed and submersed apart."""

    day: int
    grown: str
    units: int
    means: Mapping[str, float]


@dataclass(frozen=True)
class Survived:
    """How the units of one plant in one arm fared; `against` is the log-rank test with the control."""

    plants: Plants
    watched: int
    dead: int
    taken: int
    survival: Interval
    steps: tuple[Step, ...]
    against: LogRank | None
    condition: tuple[Scored, ...]


def watched(plants: Plants) -> list[Watched]:
    """Each unit that was judged: the day it was found dead, or the last it was seen (then it is censored).

    A unit that was taken out alive or sold is not a dead one.
    """
    found = []
    for label in plants.labels:
        days = [(day, row["fate"]) for day, row in plants.rows if row["label"] == label]
        if days:
            died = [day for day, fate in days if fate == "dead"]
            found.append(Watched(min(died) if died else max(day for day, _ in days), bool(died)))
    return found


def survived(plants: Plants, control: Plants | None) -> Survived | None:
    """How many of the units live, and whether that is the control's; None when none was judged."""
    units = watched(plants)
    if not units:
        return None
    steps = kaplan_meier(units, CONFIDENCE)
    dead = sum(unit.died for unit in units)
    taken = {row["label"] for _, row in plants.rows if row["fate"] == "taken"}
    return Survived(
        plants=plants,
        watched=len(units),
        dead=dead,
        taken=len(taken),
        survival=_at_end(steps, len(units)),
        steps=steps,
        against=_against(units, control),
        condition=tuple(scored(plants.rows)),
    )


def _at_end(steps: Sequence[Step], units: int) -> Interval:
    if not steps:
        return exact_interval(units, units, CONFIDENCE)
    last = steps[-1]
    if last.low is None or last.high is None:
        return Interval(0.0, 0.0, exact_interval(0, units, CONFIDENCE).high)
    return Interval(last.survival, last.low, last.high)


def _against(units: Sequence[Watched], control: Plants | None) -> LogRank | None:
    others = [] if control is None else watched(control)
    if not others:
        return None
    try:
        return log_rank(units, others)
    except OutOfDomain:  # nobody died in either
        return None


def scored(rows: Sequence[Row]) -> list[Scored]:
    """The mean of each score by day and way the leaves grew, over the living."""
    keys = sorted({(day, row["grown"]) for day, row in rows if row["fate"] != "dead"})
    found = []
    for day, grown in keys:
        living = [row for at, row in rows if (at, row["grown"]) == (day, grown) and row["fate"] != "dead"]
        means = {name: fmean(row[name] for row in living) for name in SCORES}
        found.append(Scored(day, grown, len(living), means))
    return found


def tolerance_level(own: Survived, control: Survived | None) -> tuple[str, str]:
    """What a trial says of how a plant takes a method, and why in words.

    Loss beyond the control's: a quarter is `avoid`; a tenth, a point of condition or fewer than ten units
    `caution`. Fewer than five units say nothing.
    """
    if own.watched < FEWEST_TO_JUDGE:
        return "unknown", f"{own.watched} units say nothing; five are the fewest."
    lost = (1.0 if control is None else control.survival.estimate) - own.survival.estimate
    points = _points_lost(own, control)
    told = f"{own.dead} of {own.watched} died, {max(0.0, lost):.0%} beyond the control"
    told += "" if points is None else f", condition {points:+.1f} points"
    if lost >= LOST_TO_AVOID - TIE:
        return "avoid", f"{told}."
    if lost > LOST_TO_CAUTION + TIE or (points is not None and points <= -SCORE_LOST_TO_CAUTION + TIE):
        return "caution", f"{told}."
    if own.watched < FEWEST_TO_TOLERATE:
        return "caution", f"{told}; fewer than ten units."
    return "tolerates", f"{told}."


def _points_lost(own: Survived, control: Survived | None) -> float | None:
    if control is None or not own.condition or not control.condition:
        return None
    mine, theirs = _last_mean(own.condition), _last_mean(control.condition)
    return mine - theirs


def _last_mean(condition: Sequence[Scored]) -> float:
    last = condition[-1].day
    rows = [one for one in condition if one.day == last]
    units = sum(one.units for one in rows)
    return sum(fmean(one.means.values()) * one.units for one in rows) / units
