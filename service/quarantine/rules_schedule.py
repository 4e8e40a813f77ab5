"""The standard schedule of looks at a lot: what of it was done, and what is owed when (decision 22).

A full look at arrival and the last ones before release, the old water strained at every change, a bait
before the end, and baits left overnight where who hides by day may be in it. Common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.inspections.rules import Look
from service.quarantine.rules_looks import nights_apart

BAITS = frozenset({"bait", "bait_night"})
AT_A_CHANGE = timedelta(hours=24)  # water strained within a day of the change was the old water
WATER_MINUTES = 5  # to strain the old water, or to lay a bait and take it out: assumption


@dataclass(frozen=True)
class Nights:
    """How many clean baits left overnight are `needed`, when such were `found`, and whether all are made."""

    needed: int
    found: Sequence[datetime]
    made: bool


@dataclass(frozen=True)
class Course:
    """How far a lot is: `last_from` is when the last looks count, `next_look_at` when the next is owed."""

    received_at: datetime
    clock_started_at: datetime | None
    last_from: datetime | None
    next_look_at: datetime | None
    looks_made: bool
    looks: int
    apart: timedelta
    nights: Nights = Nights(0, (), made=True)


@dataclass(frozen=True)
class Planned:
    """One line of the schedule: `done` of `needed` were made."""

    what: str
    method: str
    due_at: datetime | None
    done: int
    needed: int
    minutes: int


def schedule(
    course: Course,
    looks: Sequence[Look],
    changes: Sequence[datetime],
    counted: Sequence[datetime],
    *,
    method: str,
    minutes: int,
) -> list[Planned]:
    """The schedule of one lot; `method` and `minutes` are those of a full look at it.

    `counted` are the clean looks that took in enough; `changes` the water changes that it lived through.
    """
    return [
        _arrival(course, looks, method, minutes),
        _strains(looks, changes),
        _bait(course, looks),
        *_nights(course),
        _last(course, counted, method, minutes),
    ]


def _arrival(course: Course, looks: Sequence[Look], method: str, minutes: int) -> Planned:
    made = any(look.full if method == "eyes" else look.method == method for look in looks)
    return Planned("arrival", method, None if made else course.received_at, int(made), 1, minutes)


def _strains(looks: Sequence[Look], changes: Sequence[datetime]) -> Planned:
    strained = [look.at for look in looks if look.method == "strain"]
    done = sum(any(abs(at - change) <= AT_A_CHANGE for at in strained) for change in changes)
    # Due with each change; old water that is gone cannot be strained any more.
    return Planned("every_water_change", "strain", None, done, len(changes), WATER_MINUTES)


def _bait(course: Course, looks: Sequence[Look]) -> Planned:
    since = course.clock_started_at
    made = [look.at for look in looks if look.method in BAITS and since is not None and look.at >= since]
    due = None if made or course.last_from is None else course.last_from - course.apart
    return Planned("before_the_end", "bait", due, int(bool(made)), 1, WATER_MINUTES)


def _nights(course: Course) -> list[Planned]:
    nights, since = course.nights, course.clock_started_at
    if not nights.needed:
        return []
    if nights.made:
        return [Planned("nights", "bait_night", None, nights.needed, nights.needed, WATER_MINUTES)]
    done = [night for night in nights.found if since is not None and night >= since]
    apart = nights_apart(done, nights.needed - 1)
    return [Planned("nights", "bait_night", course.next_look_at, apart, nights.needed, WATER_MINUTES)]


def _last(course: Course, counted: Sequence[datetime], method: str, minutes: int) -> Planned:
    since = course.clock_started_at
    made = [look for look in counted if since is not None and look >= since]
    done = course.looks if course.looks_made else min(len(made), course.looks - 1)
    return Planned("last", method, course.next_look_at, done, course.looks, minutes)
