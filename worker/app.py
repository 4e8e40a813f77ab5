"""The Celery application: two tasks and a timetable. `celery -A worker.app worker|beat`."""

from functools import cache

from service import wiring
from service.core.clock import utc_now
from service.core.db import Database
from service.core.logs import configure
from service.core.queue import RUN_OWED, celery
from service.core.settings import read_settings
from worker import owed

SETTINGS = read_settings()
SETTINGS.home.mkdir(parents=True, exist_ok=True)  # beat keeps its timetable there
configure(SETTINGS.log_level)
app = celery(SETTINGS)
app.conf.beat_schedule = {
    "tick": {"task": "worker.tick", "schedule": 5.0, "options": {"expires": 5}},
}
app.conf.beat_schedule_filename = str(SETTINGS.home / "beat-schedule")


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
