"""What the temperatures did to the wait, in words: times that nobody measured, and cold ones."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise

from service.quarantine.rules_release import Log, Projection, Wait, through
from service.science.readings import SPOT_S, Guess, Span, in_order, seconds, spans

BELOW_SET_POINT_C = 2.0  # colder by more than this is no swing of a heater any more; assumed
WORTH_SAYING = timedelta(days=1)  # assumed
DAY = timedelta(days=1)


def explained(
    found: Projection, wait: Wait, log: Log, set_point_c: float | None, now: datetime
) -> tuple[str, ...]:
    """Sentences on the time from the clock's start until young can be seen, or until `now`.

    `set_point_c` is that of the tub; without one nobody can say what cold is.
    """
    started = found.clock_started_at
    if started is None:
        return ()
    end = max(started, min(now, found.visible_at or now))
    said = list(_gaps(log, started, end))
    cold = [] if set_point_c is None else _below(log, set_point_c - BELOW_SET_POINT_C, started, end)
    lasted = sum((until - since for since, until in cold), timedelta())
    if set_point_c is not None and lasted >= WORTH_SAYING:
        between = f"between {cold[0][0]:%Y-%m-%d} and {cold[-1][1]:%Y-%m-%d}"
        warm, _ = through(started, wait, _warmed(log, set_point_c), now)
        longer = _longer(found.hatched_out_at, warm, set_point_c, now)
        said.append(f"{_days(lasted)} below {set_point_c - BELOW_SET_POINT_C:g} °C {between}: {longer}")
    return tuple(said)


def _gaps(log: Log, started: datetime, end: datetime) -> Iterator[str]:
    inside = [reading.at for reading in in_order(log.readings) if started < reading.at < end]
    for former, latter in pairwise([started, *inside, end]):
        if seconds(latter, former) > SPOT_S:
            times = f"From {_moment(former)} to {_moment(latter)}"
            yield f"{times} no temperature was read: that time counts for nothing."


def _below(log: Log, limit_c: float, started: datetime, end: datetime) -> list[tuple[datetime, datetime]]:
    until_s = seconds(end, started)
    return [
        (
            started + timedelta(seconds=max(0.0, span.start_s)),
            min(end, started + timedelta(seconds=span.end_s)),
        )
        for span in spans(log.readings, started)
        if span.end_s > 0 and span.start_s < until_s and _coldest(span) < limit_c
    ]


def _warmed(log: Log, set_point_c: float) -> Log:
    limit_c = set_point_c - BELOW_SET_POINT_C
    return replace(
        log,
        readings=[
            replace(reading, celsius=set_point_c) if reading.celsius < limit_c else reading
            for reading in log.readings
        ],
    )


def _longer(hatched: datetime | None, warm: datetime | None, set_point_c: float, now: datetime) -> str:
    if hatched is None or warm is None:
        return "it can't be said when the eggs will have hatched."
    verb = "took" if hatched <= now else "takes"
    return f"hatching {verb} {_days(hatched - warm)} longer than at the set point of {set_point_c:g} °C."


def _coldest(span: Span) -> float:
    return min(span.candidates_c) if isinstance(span, Guess) else min(span.from_c, span.to_c)


def _days(lasted: timedelta) -> str:
    days = f"{lasted / DAY:.1f}".removesuffix(".0")
    return "1 day" if days == "1" else f"{days} days"


def _moment(at: datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M} UTC"
