"""From the clock to the day of release: hatch-out, visibility, floor in days, and the looks still owed."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from service.quarantine.rules import Clock
from service.quarantine.rules_looks import LookPlan, LooksOwed, looks_owed, nights_owed
from service.science.credit import Spell
from service.science.development import (
    Coverage,
    Development,
    Reading,
    coverage,
    latest_reached_at,
    visible_at,
)


@dataclass(frozen=True)
class Awaited:
    """A pest whose eggs are waited for, and the growth (or plain time) until its young can be seen."""

    pest: str
    development: Development
    visibility: Development | timedelta


@dataclass(frozen=True)
class Born:
    """A pest that bears live young: none of its eggs is waited for, but until its young can be seen."""

    pest: str
    visibility: Development | timedelta


@dataclass(frozen=True)
class Wait:
    """What is waited for: multiples of the median time to hatch, at least `floor`; soaks count half.

    `born` are live-bearers that come out by night: as many clean baits left overnight are owed.
    """

    awaited: Sequence[Awaited]
    factor: float
    floor: timedelta
    looks: LookPlan
    coverage: float
    longest_gap_h: float
    half_credit: Sequence[Spell] = ()
    born: Sequence[Born] = ()
    night_baits: int = 0


@dataclass(frozen=True)
class Log:
    """The temperatures that the lot lived through, and the one expected from now on (°C)."""

    readings: Sequence[Reading]
    forecast_c: float | None


@dataclass(frozen=True)
class Projection:
    """When a lot can be released, and what that rests on; reasons say why a moment is not known."""

    clock_started_at: datetime | None
    hatched_out_at: datetime | None = None
    visible_at: datetime | None = None
    floor_at: datetime | None = None
    release_at: datetime | None = None
    credited_share: float | None = None
    longest_gap_h: float | None = None
    next_look_at: datetime | None = None
    looks_made: bool = False
    reasons: tuple[str, ...] = ()
    sealed: bool = False
    nights_made: bool = True  # every clean bait overnight that is owed

    def decidable(self, now: datetime) -> bool:
        """True when the time is over, every look is made and the log is good enough."""
        return self.release_at is not None and self.looks_made and not self.reasons and self.release_at <= now


def project(
    clock: Clock,
    wait: Wait,
    log: Log,
    counted: Sequence[datetime],
    *,
    repacked_at: datetime | None,
    now: datetime,
    nights: Sequence[datetime] = (),
) -> Projection:
    """The release of a lot: the latest of hatch-out, visibility, floor, and the last look.

    `counted` are the moments of clean looks that take in enough, `nights` those of clean baits left over
    night; only those since the clock started count.
    """
    started = clock.started_at
    if started is None:
        return Projection(None, next_look_at=clock.next_look_at, reasons=(clock.reason,))
    if clock.sealed:
        return _sealed(started, wait, counted, now)
    hatched, visible = through(started, wait, log, now)
    share = _coverage(log, started, visible, now)
    reasons = _reasons(hatched, visible, wait, log, share)
    floor = started + wait.floor
    known = Projection(
        started, hatched, visible, floor, None, share.credited_share, share.longest_gap_h, reasons=reasons
    )
    if hatched is None or visible is None:
        return known
    owed = looks_owed(
        [look for look in counted if look >= started], _last_from(visible, repacked_at), wait.looks, now
    )
    baits = nights_owed([night for night in nights if night >= started], visible, wait.night_baits, now)
    return _with_looks(known, max(hatched, visible, floor), owed, baits)


def _with_looks(known: Projection, over: datetime, owed: LooksOwed, baits: LooksOwed) -> Projection:
    """The projection of a lot whose time is known, with the looks and baits that it still owes."""
    owing = [moment for moment in (owed.next_at, baits.next_at) if moment is not None]
    return replace(
        known,
        release_at=max(over, owed.last_at, baits.last_at),
        next_look_at=min(owing, default=None),
        looks_made=not owing,
        nights_made=baits.next_at is None,
    )


def _sealed(since: datetime, wait: Wait, counted: Sequence[datetime], now: datetime) -> Projection:
    """Sealed cups wait for nothing but the look that found them so, and that not too long ago."""
    last = max((look for look in counted if look >= since), default=since)
    again_at = last + wait.looks.again_after
    stands = now < again_at
    return Projection(
        since,
        since,
        since,
        since,
        since if stands else now,
        next_look_at=None if stands else again_at,
        looks_made=stands,
        sealed=True,
    )


def through(
    started: datetime, wait: Wait, log: Log, now: datetime
) -> tuple[datetime | None, datetime | None]:
    """When the last egg has hatched and when its young can be seen; None where that is never."""
    born = [_visible(pest, started, wait, log, now) for pest in wait.born]
    hatched = [_hatched(pest, started, wait, log, now) for pest in wait.awaited]
    visible = [_visible(pest, at, wait, log, now) for pest, at in zip(wait.awaited, hatched, strict=True)]
    return _latest([started, *hatched]), _latest([started, *visible, *born])


def _hatched(pest: Awaited, started: datetime, wait: Wait, log: Log, now: datetime) -> datetime | None:
    return latest_reached_at(
        log.readings,
        started,
        wait.factor,
        pest.development,
        half_credit=wait.half_credit,
        forecast_c=log.forecast_c,
        forecast_from=now,
    )


def _visible(
    pest: Awaited | Born, hatched: datetime | None, wait: Wait, log: Log, now: datetime
) -> datetime | None:
    if hatched is None:
        return None
    return visible_at(
        log.readings,
        hatched,
        pest.visibility,
        half_credit=wait.half_credit,
        forecast_c=log.forecast_c,
        forecast_from=now,
    )


def _latest(moments: Sequence[datetime | None]) -> datetime | None:
    known = [moment for moment in moments if moment is not None]
    return max(known) if len(known) == len(moments) else None


def _last_from(visible: datetime, repacked_at: datetime | None) -> datetime:
    return visible if repacked_at is None else max(visible, repacked_at)


def _coverage(log: Log, started: datetime, visible: datetime | None, now: datetime) -> Coverage:
    # What was measured after everything could be seen no longer matters.
    end = now if visible is None else min(visible, now)
    return coverage(log.readings, started, max(started, end))


def _reasons(
    hatched: datetime | None, visible: datetime | None, wait: Wait, log: Log, share: Coverage
) -> tuple[str, ...]:
    found = []
    if hatched is None or visible is None:
        found.append(_unreachable(log))
    if share.credited_share < wait.coverage:
        known = f"{share.credited_share:.0%} of the time"
        found.append(f"The temperature is known for {known}; {wait.coverage:.0%} is needed.")
    if share.longest_gap_h > wait.longest_gap_h:
        gap = f"For {share.longest_gap_h:.0f} hours no temperature was read"
        found.append(f"{gap}; at most {wait.longest_gap_h:.0f} are allowed.")
    return tuple(found)


def _unreachable(log: Log) -> str:
    if log.forecast_c is None:
        return "No temperature can be expected: put the lot into a tub with a thermometer or a set point."
    return (
        f"At {log.forecast_c:.1f} °C eggs do not hatch or young do not grow in time: raise the temperature."
    )
