"""How warm a batch stood: the log of its shelf, and what is assumed of days that nobody read."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

from service.core.reasons import Reason
from service.journal.rules import judge_time

COLDEST_C, HOTTEST_C = -30.0, 60.0  # a thermometer in a store that says otherwise is broken
COLDEST_KNOWN_C = 10.0  # the ageing model begins here; colder counts as this: rather too weak than too strong
SAME_C = 0.05
ShelfLog = Mapping[date, Sequence[float]]  # per local day what was read, in °C
NO_LOG: ShelfLog = {}


def segments(log: ShelfLog, since: date, until: date, setting: float) -> list[tuple[float, float]]:
    """The store as (days, celsius) from one local day to another.

    The readings of a day count in equal parts, not by their mean: a warm hour ages more than a cool one
    saves. A day that nobody read counts as warm as `setting` or the day read last before it, whichever is
    warmer (assumed); none counts as colder than 10 °C.
    """
    days = max(0, (until - since).days)
    found: list[tuple[float, float]] = []
    unread = setting = max(COLDEST_KNOWN_C, setting)
    for day in (since + timedelta(days=n) for n in range(days)) if log else ():
        read = log.get(day)
        if read:
            found += [(1 / len(read), max(COLDEST_KNOWN_C, celsius)) for celsius in read]
            unread = max(setting, *read)
        else:
            found.append((1.0, unread))
    return found or [(float(days), setting)]


def reading_reasons(
    readings: Sequence[tuple[datetime, float]], now: datetime, late_reason: str | None, limit_days: int
) -> list[Reason]:
    """Everything wrong with readings (when, °C) of a shelf, each reason pointing at its place."""
    found: list[Reason] = []
    said: dict[datetime, float] = {}
    for n, (at, celsius) in enumerate(readings):
        place = f"#/readings/{n}"
        for reason in judge_time(at, now, late_reason, limit_days):
            late = reason.code == "late-reason-missing"
            found.append(reason if late else replace(reason, pointer=f"{place}/at"))
        if not COLDEST_C <= celsius <= HOTTEST_C:
            detail = f"A store is between {COLDEST_C:g} and {HOTTEST_C:g} °C; this is {celsius:g} °C."
            found.append(Reason("implausible", detail, HOTTEST_C, celsius, f"{place}/value"))
        if differs(said.setdefault(at, celsius), celsius):
            detail = "These readings say something else for the same moment."
            found.append(Reason("contradiction", detail, said[at], celsius, f"{place}/value"))
    return list(dict.fromkeys(found))


def differs(one_celsius: float, other_celsius: float) -> bool:
    """Whether two readings of one shelf at one moment contradict each other."""
    return abs(one_celsius - other_celsius) > SAME_C
