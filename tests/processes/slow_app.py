"""The worker's own application with slow jobs and short leases: `celery -A tests.processes.slow_app`."""

from datetime import timedelta

from service import wiring
from service.core import jobs
from tests.processes import slow_jobs
from worker.app import app

__all__ = ["app"]

jobs.LEASE = timedelta(seconds=2)
wiring.JOBS = {"careful": slow_jobs.careful, "naive": slow_jobs.naive}
wiring.NIGHTLY = ()  # type: ignore[assignment]  # its type says how many
app.conf.beat_schedule["tick"]["schedule"] = 1.0
