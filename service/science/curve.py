"""Credit along one log, added up once and asked for many moments."""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import accumulate

from service.science.credit import Credit, Spell, credits_within, half_borders
from service.science.domain import not_negative
from service.science.reaching import NEVER_MIND_DD
from service.science.readings import Reading, aware, seconds, spans
from service.science.thermal import Development


@dataclass(frozen=True)
class Curve:
    """Degree-days since `start` at every moment that the log speaks for; level where it is silent."""

    start: datetime
    credits: Sequence[Credit]
    sums_dd: Sequence[float]  # before each stretch, and after the last

    def at(self, moment: datetime) -> float:
        """Degree-days from the start to a moment; 0 before the start."""
        aware("moment", moment)
        second = seconds(moment, self.start)
        index = bisect_right(self.credits, second, key=lambda credit: credit.start_s) - 1
        if index < 0:
            return 0.0
        credit = self.credits[index]
        if second >= credit.end_s:
            return self.sums_dd[index + 1]
        part = (second - credit.start_s) / (credit.end_s - credit.start_s)
        rate_there = credit.from_rate + part * (credit.to_rate - credit.from_rate)
        return self.sums_dd[index] + Credit(credit.start_s, second, credit.from_rate, rate_there).degree_days

    def reached_at(self, degree_days: float) -> datetime | None:
        """The first moment at which so many degree-days are reached, None when they never are."""
        not_negative("degree_days", degree_days)
        # What rounding keeps from a sum must not put it off beyond a silence or a cold spell.
        index = bisect_left(self.sums_dd, degree_days - NEVER_MIND_DD)
        if index == len(self.sums_dd):
            return None
        if index == 0:
            return self.start
        second = self.credits[index - 1].second_of(degree_days - self.sums_dd[index - 1])
        return self.start + timedelta(seconds=second)


def curve(
    readings: Sequence[Reading],
    start: datetime,
    end: datetime,
    development: Development,
    *,
    half_credit: Sequence[Spell] = (),
) -> Curve:
    """The curve of a log between two moments, by the gap rule of `readings.spans`; soaks count half."""
    aware("start", start)
    aware("end", end)
    borders_s = half_borders(half_credit, start)
    found = list(credits_within(spans(readings, start), seconds(end, start), development, borders_s))
    return Curve(start, found, list(accumulate((credit.degree_days for credit in found), initial=0.0)))
