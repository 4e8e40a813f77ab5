"""When degree-days are reached along a log and the temperature that is expected after it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.science.credit import Spell, credits_within, half_borders
from service.science.domain import not_negative, positive, within
from service.science.readings import COLDEST_C, HOTTEST_C, Ramp, Reading, Span, aware, seconds, spans
from service.science.thermal import Development

NEVER_MIND_DD = 1e-9  # sums of floats may miss a whole number by so much


@dataclass(frozen=True)
class Course:
    """What is known and expected of the temperature from a moment on; made once for any developments."""

    start: datetime
    spans: Sequence[Span]
    until_s: float
    borders_s: Sequence[float]  # of half credit

    @classmethod
    def of(
        cls,
        readings: Sequence[Reading],
        start: datetime,
        *,
        half_credit: Sequence[Spell],
        forecast_c: float | None,
        forecast_from: datetime | None,
        horizon_days: float,
    ) -> "Course":
        """The course by a log and, up to the horizon, a forecast (`development.reached_at`); OutOfDomain."""
        aware("start", start)
        positive("horizon_days", horizon_days)
        until_s = timedelta(days=horizon_days).total_seconds()
        found = tuple(_spans(readings, start, until_s, forecast_c, forecast_from))
        return cls(start, found, until_s, half_borders(half_credit, start))

    def reached_at(self, needed_dd: float, development: Development) -> datetime | None:
        """The moment at which the degree-days since the start reach what is needed; None if they never do."""
        not_negative("needed_dd", needed_dd)
        if needed_dd == 0:
            return self.start
        missing_dd = needed_dd
        for credit in credits_within(self.spans, self.until_s, development, self.borders_s):
            given_dd = credit.degree_days
            if given_dd >= missing_dd - NEVER_MIND_DD:
                return self.start + timedelta(seconds=credit.second_of(max(0.0, missing_dd)))
            missing_dd -= given_dd
        return None


def _spans(
    readings: Sequence[Reading],
    start: datetime,
    until_s: float,
    forecast_c: float | None,
    forecast_from: datetime | None,
) -> Iterator[Span]:
    known_until_s = 0.0
    for span in spans(readings, start):
        known_until_s = max(known_until_s, span.end_s)
        yield span
    if forecast_c is None:
        return
    within("forecast_c", forecast_c, COLDEST_C, HOTTEST_C)
    since_s = known_until_s if forecast_from is None else max(known_until_s, seconds(forecast_from, start))
    if since_s < until_s:
        yield Ramp(since_s, until_s, forecast_c, forecast_c)
