"""Doing owed work: claim with a lease, do each job in a transaction of its own, strike it off."""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta

import structlog
from sqlalchemy.orm import Session

from service.core import idempotency, jobs, probes
from service.core.clock import local_day
from service.core.db import Database
from service.core.house import house
from service.core.jobs import Job, Leased
from service.wiring import Round

NIGHT = timedelta(hours=2)
log = structlog.get_logger()


def run_owed(database: Database, kinds: Mapping[str, Job], now: Callable[[], datetime]) -> int:
    """Do every job that is due; gives how many were done."""
    done = 0
    while True:
        with database.writing() as session:
            # One at a time: if we are killed, the others wait for no lease, and no try of theirs is counted.
            claimed = jobs.claim(session, now(), 1)
        if not claimed:
            return done
        done += _run_one(database, kinds, claimed[0], now())


def run_rounds(database: Database, rounds: Sequence[Round], now: Callable[[], datetime]) -> int:
    """Do what is looked after at each waking; gives how much was done."""
    done = 0
    for round_ in rounds:
        try:
            done += round_(database, now)
        except Exception as problem:  # as below: what fails must not stop the others
            log.error("round failed", round=round_.__module__, exc_info=problem)
    return done


def tick(database: Database, nightly: tuple[str, ...], now: datetime) -> None:
    """Once in a few seconds: say that beat lives, give back lost leases, owe the night's work once a day."""
    with database.writing() as session:
        jobs.sweep(session, now)
        _owe_night(session, nightly, now)
        probes.beat(session, "beat", now)


def night_is_due(last: datetime | None, now: datetime, zone: str) -> bool:
    """Whether the night's work is to be owed: once a day of the nursery's calendar, 2 h after its start.

    A clock that is put back owes no day again; days on which nothing ran are not made up for.
    """
    return last is None or local_day(last - NIGHT, zone) < local_day(now - NIGHT, zone)


def _run_one(database: Database, kinds: Mapping[str, Job], leased: Leased, now: datetime) -> bool:
    try:
        return jobs.perform(database, leased, kinds, now)
    except Exception as problem:  # one of the two shells: a poisoned job must not stop the others
        log.error("job failed", job=leased.id, kind=leased.kind, exc_info=problem)
        with database.writing() as session:
            jobs.fail(session, leased, f"{type(problem).__name__}: {problem}", now)
        return False


def _owe_night(session: Session, nightly: tuple[str, ...], now: datetime) -> None:
    zone = house(session).time_zone
    last = session.get(probes.Heartbeat, "night")
    if not night_is_due(None if last is None else last.at, now, zone):
        return
    day = local_day(now, zone).isoformat()
    for kind in nightly:
        jobs.owe(session, kind, day, now)
    idempotency.forget_old(session, now)
    probes.beat(session, "night", now)
