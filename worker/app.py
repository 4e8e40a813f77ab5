"""The Celery application with its two tasks. `celery -A worker.app worker`."""

from functools import cache

from service import wiring
from service.core.clock import utc_now
from service.core.db import Database
from service.core.queue import RUN_OWED
from worker import owed
from worker.timetable import SETTINGS, app

__all__ = ["app"]


@cache
def database() -> Database:
    """The database of this process, opened after the pool has forked."""
    return wiring.open_database(SETTINGS)


@app.task(name=RUN_OWED)  # type: ignore[untyped-decorator]  # Celery ships no types
def run_owed() -> int:
    """Do what is owed, then send the post."""
    done = owed.run_owed(database(), wiring.JOBS, utc_now)
    return done + owed.run_rounds(database(), wiring.ROUNDS, utc_now)


@app.task(name="worker.tick")  # type: ignore[untyped-decorator]  # Celery ships no types
def tick() -> int:
    """Beat's heartbeat, lost leases, the night's work; then do what is owed, then send the post."""
    owed.tick(database(), wiring.NIGHTLY, utc_now())
    done = owed.run_owed(database(), wiring.JOBS, utc_now)
    return done + owed.run_rounds(database(), wiring.ROUNDS, utc_now)
