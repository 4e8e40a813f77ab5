"""A temperature log: its readings, and what it says about the time between them."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import NamedTuple

from service.science.domain import OutOfDomain, within

# A reading outside is a broken probe or one out of the water.
COLDEST_C = -1.0
HOTTEST_C = 45.0

HOUR = 3600.0
HOLD_S = 2 * HOUR
RAMP_S = 6 * HOUR
FLANKS_S = 12 * HOUR
SPOT_S = 30 * HOUR  # one reading a day by hand, a few hours late
NIGHT_DROP_C = 1.0


@dataclass(frozen=True, slots=True)
class Reading:
    """The temperature of the water at an aware moment; OutOfDomain outside -1..45 °C or without an offset."""

    at: datetime
    celsius: float

    def __post_init__(self) -> None:
        aware("at", self.at)
        within("celsius", self.celsius, COLDEST_C, HOTTEST_C)


class Ramp(NamedTuple):
    """A known course of temperature, straight from one value to another; seconds from the start."""

    start_s: float
    end_s: float
    from_c: float
    to_c: float


class Guess(NamedTuple):
    """An unseen stretch: it gets the least credit that any of these temperatures would give."""

    start_s: float
    end_s: float
    candidates_c: tuple[float, ...]


Span = Ramp | Guess


@dataclass(frozen=True)
class Coverage:
    """The share of a time that readings speak for (0..1), and the longest time without one in hours."""

    credited_share: float
    longest_gap_h: float


def aware(parameter: str, moment: datetime) -> None:
    """Refuse a moment without an offset from UTC; OutOfDomain."""
    if moment.utcoffset() is None:
        raise OutOfDomain(parameter, f"{parameter} must be a moment with its offset from UTC, not {moment}.")


def seconds(moment: datetime, start: datetime) -> float:
    """Elapsed seconds from `start`."""
    return (moment - start) / timedelta(seconds=1)


def in_order(readings: Iterable[Reading]) -> list[Reading]:
    """By time; of several at the same time the last given counts."""
    given = list(readings)
    if all(former.at < latter.at for former, latter in pairwise(given)):
        return given
    last = {found.at: found for found in given}
    return [last[at] for at in sorted(last)]


def spans(readings: Iterable[Reading], start: datetime) -> Iterator[Span]:
    """What the log says about the times it speaks for, in seconds from `start`, in order.

    The gap rule: up to 2 h the former reading holds, up to 6 h a straight line, up to 12 h the lesser credit
    of both flanks, up to 30 h the same with 1 °C taken off for an unseen night, beyond that nothing. The
    limits are assumed. The last reading speaks for no time until the next one closes the gap: whatever it
    were given, a long gap would have to take back, and a reading less would bring an earlier date.
    """
    marks = [(seconds(found.at, start), found.celsius) for found in in_order(readings)]
    for (start_s, former_c), (end_s, latter_c) in pairwise(marks):
        length_s = end_s - start_s
        if length_s <= HOLD_S:
            yield Ramp(start_s, end_s, former_c, former_c)
        elif length_s <= RAMP_S:
            yield Ramp(start_s, end_s, former_c, latter_c)
        elif length_s <= FLANKS_S:
            yield Guess(start_s, end_s, (former_c, latter_c))
        elif length_s <= SPOT_S:
            # The undiminished flanks count too: a degree less must not bring overheated water into range.
            lower = (former_c - NIGHT_DROP_C, latter_c - NIGHT_DROP_C)
            yield Guess(start_s, end_s, (former_c, latter_c, *lower))


def coverage(readings: Sequence[Reading], start: datetime, end: datetime) -> Coverage:
    """How well a log speaks for the time from start to end; OutOfDomain when it ends before it starts.

    A time without length is covered.
    """
    aware("start", start)
    aware("end", end)
    length_s = seconds(end, start)
    if length_s < 0:
        raise OutOfDomain("end", "The end lies before the start.")
    if length_s == 0:
        return Coverage(1.0, 0.0)
    known_s = math.fsum(
        max(0.0, min(found.end_s, length_s) - max(found.start_s, 0.0)) for found in spans(readings, start)
    )
    return Coverage(known_s / length_s, _longest_gap_s(readings, start, length_s) / HOUR)


def _longest_gap_s(readings: Sequence[Reading], start: datetime, length_s: float) -> float:
    inside = (seconds(found.at, start) for found in in_order(readings))
    marks = [0.0, *(mark for mark in inside if 0 < mark < length_s), length_s]
    return max(latter - former for former, latter in pairwise(marks))
