"""Degree-day credit along a temperature log, as stretches on which the rate is constant or runs straight."""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from itertools import pairwise
from typing import NamedTuple

from service.science.domain import OutOfDomain
from service.science.readings import Guess, Ramp, Span, aware, seconds
from service.science.thermal import Development, rate

DAY = 86400.0
Spell = tuple[datetime, datetime]


class Credit(NamedTuple):
    """A stretch in seconds from the start, and the rate at both its ends in degree-days per day."""

    start_s: float
    end_s: float
    from_rate: float
    to_rate: float

    @property
    def degree_days(self) -> float:
        """What the whole stretch is worth."""
        return (self.from_rate + self.to_rate) / 2 * (self.end_s - self.start_s) / DAY

    def second_of(self, degree_days: float) -> float:
        """The second at which the stretch has given so many degree-days, at most its end."""
        length_days = (self.end_s - self.start_s) / DAY
        slope = (self.to_rate - self.from_rate) / length_days
        # The root of rate x + slope x² / 2 = degree_days, in the form that stays sound for a slope near 0.
        root = self.from_rate + math.sqrt(max(0.0, self.from_rate**2 + 2 * slope * degree_days))
        days = 2 * degree_days / root if root > 0 else 0.0
        return min(self.end_s, self.start_s + days * DAY)


def half_borders(half_credit: Iterable[Spell], start: datetime) -> list[float]:
    """Where half credit begins and ends by turns, in seconds from `start`; spells that meet become one.

    OutOfDomain when a spell ends before it begins.
    """
    borders: list[float] = []
    for begins_s, ends_s in sorted(_spell(spell, start) for spell in half_credit):
        if borders and begins_s <= borders[-1]:
            borders[-1] = max(borders[-1], ends_s)
        elif begins_s < ends_s:
            borders += [begins_s, ends_s]
    return borders


def credits_within(
    spans: Iterable[Span], until_s: float, development: Development, borders_s: Sequence[float]
) -> Iterator[Credit]:
    """The credit from second 0 to `until_s`, in order; between odd and even borders it counts half."""
    for span in spans:
        start_s, end_s = max(span.start_s, 0.0), min(span.end_s, until_s)
        if start_s >= end_s:
            continue
        if not borders_s:
            yield from _credits(span, (start_s, end_s), development, 1.0)
            continue
        inside = borders_s[bisect_right(borders_s, start_s) : bisect_left(borders_s, end_s)]
        for former_s, latter_s in pairwise((start_s, *inside, end_s)):
            weight = 0.5 if bisect_right(borders_s, former_s) % 2 else 1.0
            yield from _credits(span, (former_s, latter_s), development, weight)


def _spell(spell: Spell, start: datetime) -> tuple[float, float]:
    begins, ends = spell
    aware("half_credit", begins)
    aware("half_credit", ends)
    if ends < begins:
        raise OutOfDomain("half_credit", "A spell of half credit ends before it begins.")
    return seconds(begins, start), seconds(ends, start)


def _credits(
    span: Span, stretch: tuple[float, float], development: Development, weight: float
) -> Sequence[Credit]:
    former_s, latter_s = stretch
    if isinstance(span, Guess):
        least = weight * min([rate(celsius, development) for celsius in span.candidates_c])
        return (Credit(former_s, latter_s, least, least),)
    threshold_c, (_, _, from_c, to_c) = development.lower_threshold_c, span
    if threshold_c <= from_c <= development.optimum_c and threshold_c <= to_c <= development.optimum_c:
        # No bend inside, as in nearly all of a log: the rate is the excess over the threshold at both ends.
        from_rate, to_rate = _at(span, former_s) - threshold_c, _at(span, latter_s) - threshold_c
        return (Credit(former_s, latter_s, weight * from_rate, weight * to_rate),)
    return [
        Credit(former_s, latter_s, *(weight * end for end in _rates(from_c, to_c, development)))
        for former_s, latter_s in pairwise(_marks(span, stretch, development))
        for from_c, to_c in [(_at(span, former_s), _at(span, latter_s))]
    ]


def _at(ramp: Ramp, second: float) -> float:
    start_s, end_s, from_c, to_c = ramp
    return from_c + (second - start_s) / (end_s - start_s) * (to_c - from_c)


def _marks(ramp: Ramp, stretch: tuple[float, float], development: Development) -> list[float]:
    """The ends of the stretch and the seconds between at which the ramp crosses a bend of the rate."""
    if ramp.from_c == ramp.to_c:
        return list(stretch)
    bends = (development.lower_threshold_c, development.optimum_c, development.maximum_c)
    per_c = (ramp.end_s - ramp.start_s) / (ramp.to_c - ramp.from_c)
    crossings = (ramp.start_s + per_c * (bend - ramp.from_c) for bend in bends)
    return sorted({*stretch, *(crossing for crossing in crossings if stretch[0] < crossing < stretch[1])})


def _rates(from_c: float, to_c: float, development: Development) -> tuple[float, float]:
    """The rate at both ends of a stretch without a bend inside; its middle says on which branch it lies."""
    middle = rate((from_c + to_c) / 2, development)
    if middle == 0 or middle >= development.optimum_c - development.lower_threshold_c:
        return middle, middle
    threshold_c = development.lower_threshold_c
    return max(0.0, from_c - threshold_c), max(0.0, to_c - threshold_c)
