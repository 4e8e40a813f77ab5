"""N1 and N2: the release days of every waiting lot anew, as the night's work does it.

N1 is the kernel alone: when the eggs have hatched, lot by lot as the service asks (`latest_reached_at`),
against one sum along each tub's log and a binary search in it for all its lots at once. N2 is the work end to
end: the job of the night owes every tub, the worker does each in a transaction of its own; against the
driver reading lots, looks and readings, the same sums, and one write of all rows. Both must give every lot
the same day of release.
"""

import random
import time
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import select

from benchmarks import waiting
from benchmarks.run import CLOCKS, Limit, Run
from service.core.clock import first_day_after
from service.core.house import house as house_row
from service.lots.models import Lot
from service.quarantine.actions import project_all
from service.quarantine.queries import projection
from service.quarantine.rules_release import Awaited, Born, Wait
from service.science.development import latest_reached_at
from service.science.readings import NIGHT_DROP_C, Reading
from service.science.thermal import Development, rate, variants
from service.wiring import JOBS
from worker.owed import run_owed

KERNEL = Limit("N1", 3.0, 4.0)  # the service's is plain Python
NIGHT = Limit("N2", 1.5, 2.0)
DAYS, FACTOR, RECENT_D, HORIZON_D = 60, 1.7, 7, 400
LOTS, FULL_LOTS = 50, 2000
NIGHT_LOTS, FULL_NIGHT_LOTS = 50, 1000
ROUNDS = 5
DAY_S = 86400.0
CHANGE = (
    "UPDATE lot SET clock_started_at = ?, release_day = ?, release_day_computed_at = ?,"
    " release_day_stale = false WHERE id = ?"
)
SNAILS = Development("bladder_snail", 9, 136, 8.5, 25, (8.0, 10.0), 28, 34)
Floats = NDArray[np.float64]
Log = Sequence[tuple[float, float]]  # second, °C


def measured(run: Run) -> None:
    """N1, and N2 on both databases."""
    _kernel(run, FULL_LOTS if run.full else LOTS)
    for kind in CLOCKS:
        _night(run, kind, FULL_NIGHT_LOTS if run.full else NIGHT_LOTS)


@dataclass(frozen=True)
class Course:
    """A log of one reading a day: between two of them the least rate that the gap rule leaves holds."""

    seconds: Floats
    candidates_c: Sequence[Sequence[float]]  # of each gap; none: no credit

    @classmethod
    def of(cls, log: Log, now: float | None = None) -> "Course":
        """The course along a log; from `now` on at the mean of the last seven days."""
        seconds = [second for second, _ in log]
        gaps: list[Sequence[float]] = [
            (former, latter, former - NIGHT_DROP_C, latter - NIGHT_DROP_C)
            for (_, former), (_, latter) in pairwise(log)
        ]
        if now is not None:
            recent = [celsius for second, celsius in log if second >= now - RECENT_D * DAY_S]
            seconds += [now, now + HORIZON_D * DAY_S]
            gaps += [(), (sum(recent) / len(recent),)]
        return cls(np.array(seconds), gaps)

    def reached(self, starts: Floats, factor: float, development: Development) -> Floats:
        """The seconds at which factor x K is reached from each start, at the latest of the variants."""
        latest = starts
        for variant in variants(development):
            rates = [min((rate(c, variant) for c in gap), default=0.0) for gap in self.candidates_c]
            sums = np.concatenate([[0.0], np.cumsum(np.diff(self.seconds) * rates) / DAY_S])
            wanted = np.interp(starts, self.seconds, sums) + factor * variant.thermal_constant_dd
            gap = np.searchsorted(sums, wanted).clip(1, len(sums) - 1)
            part = (wanted - sums[gap - 1]) / (sums[gap] - sums[gap - 1])
            found = self.seconds[gap - 1] + part * (self.seconds[gap] - self.seconds[gap - 1])
            latest = np.maximum(latest, found)
        return latest


def _kernel(run: Run, lots: int) -> None:
    start, chance = datetime(2026, 1, 1, tzinfo=UTC), random.Random(7)  # noqa: S311  # the same in every run
    tubs = range(lots // waiting.LOTS_OF_A_TUB)
    logs = [[(day * DAY_S, round(chance.uniform(20, 25), 2)) for day in range(DAYS)] for _ in tubs]
    readings = [[Reading(start + timedelta(seconds=s), c) for s, c in log] for log in logs]
    since = [[chance.uniform(2, 20) * DAY_S for _ in range(waiting.LOTS_OF_A_TUB)] for _ in tubs]

    def service() -> list[float]:
        found = [
            latest_reached_at(log, start + timedelta(seconds=second), FACTOR, SNAILS)
            for log, seconds in zip(readings, since, strict=True)
            for second in seconds
        ]
        return [(moment - start).total_seconds() if moment else np.nan for moment in found]

    def floor() -> list[float]:
        parts = [
            Course.of(log).reached(np.array(seconds), FACTOR, SNAILS)
            for log, seconds in zip(logs, since, strict=True)
        ]
        return [float(second) for part in parts for second in part]

    what = f"hatch-out of {lots:,} lots along {DAYS} daily readings, against prefix sums and searchsorted"
    clock = time.process_time
    run.ratio(
        KERNEL,
        what,
        floor,
        service,
        clock,
        same=lambda: bool(np.allclose(service(), floor(), rtol=0, atol=0.01)),
        rounds=ROUNDS,
    )


def _night(run: Run, kind: str, lots: int) -> None:
    with waiting.house(kind, lots) as house:
        with house.database.reading() as session:
            zone = house_row(session).time_zone
            first = session.scalars(select(Lot).limit(1)).one()
            wait = projection(session, [first], house.now)[first.id].wait  # all lots wait for the same

        def service() -> None:
            with house.database.writing() as session:
                project_all(session, {}, house.now)
            run_owed(house.database, JOBS, lambda: house.now)

        floor = _floor(house, wait, zone)
        what = f"the night's release days of {lots:,} lots, {kind}, against one pass on the driver"
        same = lambda: _days(house, service) == _days(house, floor)  # noqa: E731  # asked once
        run.ratio(NIGHT, what, floor, service, CLOCKS[kind], same=same, rounds=ROUNDS)


def _days(house: waiting.House, work: Callable[[], None]) -> dict[str, date | None]:
    work()
    with house.database.reading() as session:
        found = {id_: day for id_, day in session.execute(select(Lot.id, Lot.release_day))}
    if None in found.values():
        raise RuntimeError("a lot has no day of release: there is nothing to compare")
    return found


def _floor(house: waiting.House, wait: Wait, zone: str) -> Callable[[], None]:
    sqlite = house.database.engine.dialect.name == "sqlite"
    change = CHANGE if sqlite else CHANGE.replace("?", "%s")
    ask, cursor = house.driver.execute, house.driver.cursor()
    kept = _text if sqlite else _moment

    def call() -> None:
        ask("BEGIN IMMEDIATE" if sqlite else "BEGIN")
        rows: list[Any] = []
        logs = _by_tub(ask("SELECT tub_id, at, celsius FROM temperature_reading ORDER BY tub_id, at"))
        looks = _by_tub(
            ask("SELECT tub_id, at, 0 FROM inspection WHERE clean AND voided_at IS NULL ORDER BY at")
        )
        lots = _by_tub(ask("SELECT tub_id, received_at, id FROM lot ORDER BY id"))
        for tub, there in lots.items():
            seen = [second for second, _ in looks[tub]]
            starts = np.array([seen[bisect_left(seen, came)] for came, _ in there])
            over = _over(Course.of(logs[tub], house.now.timestamp()), starts, wait)
            for (_, lot), start, end in zip(there, starts, over, strict=True):
                day = first_day_after(_moment(end), zone)
                told = (kept(_moment(start)), day.isoformat() if sqlite else day, kept(house.now), lot)
                rows.append(told)
        cursor.executemany(change, rows)
        ask("COMMIT")

    return call


def _over(course: Course, starts: Floats, wait: Wait) -> Floats:
    """When the wait of each lot is over: eggs hatched, young grown, and the least days."""
    hatched = [course.reached(starts, wait.factor, pest.development) for pest in wait.awaited]
    pairs: list[tuple[Awaited | Born, Floats]] = [*zip(wait.awaited, hatched, strict=True)]
    pairs += [(pest, starts) for pest in wait.born]
    visible = [
        since + pest.visibility.total_seconds()
        if isinstance(pest.visibility, timedelta)
        else course.reached(since, 1.0, pest.visibility)
        for pest, since in pairs
    ]
    found: Floats = np.max([*hatched, *visible, starts + wait.floor.total_seconds()], axis=0)
    return found


def _by_tub(rows: Any) -> Mapping[Any, list[tuple[float, Any]]]:
    found: dict[Any, list[tuple[float, Any]]] = defaultdict(list)
    for tub, at, value in rows.fetchall():
        moment = datetime.fromisoformat(at).replace(tzinfo=UTC) if isinstance(at, str) else at
        found[tub].append((moment.timestamp(), value))
    return found


def _moment(at: Any) -> datetime:
    return at if isinstance(at, datetime) else datetime.fromtimestamp(float(at), UTC)


def _text(at: datetime) -> str:
    return at.strftime("%Y-%m-%d %H:%M:%S.%f")
