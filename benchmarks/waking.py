"""C1 to C3: how soon and how cheaply owed work is done, with a real worker on a real Redis.

No work travels through the broker: a job is a row, written in the transaction of the act that owes it, and
the broker only carries the news. So there is no message with many items (C1) and no relay that publishes rows
(C3). C2 is asked from the commit that owes a job until the worker has struck it off, which is later than its
start.
"""

import statistics
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from benchmarks.reading import settings
from benchmarks.run import Limit, Run
from service.core import jobs
from service.core.clock import utc_now
from service.core.db import Database
from service.core.ids import new_id
from service.core.queue import Waker
from service.quarantine.actions import JOB
from service.wiring import open_database
from tests.processes.house import House
from tests.servers import redis

CHUNKED = Limit("C1", 1.3, 1.6)
STARTED = Limit("C2", 50, 100, unit="ms")
RELAYED = Limit("C3", 0.3, 0.05, least=True)
TIMES, FULL_TIMES = 20, 200
PAUSE_S = 0.05  # so that the worker is idle again


def measured(run: Run) -> None:
    """C2; and that there is no such thing as C1 and C3."""
    run.missing(CHUNKED, "items in chunks of a message: jobs are rows, each done in a transaction of its own")
    _started(run)
    run.missing(RELAYED, "rows relayed to Redis: the broker carries only the news that work is owed")


def _started(run: Run) -> None:
    with TemporaryDirectory() as folder, redis() as broker:
        home = Path(folder) / "home"
        house = House(home, DIPLEDGER_REDIS_URL=broker)
        house.run("init")
        told = replace(
            settings(home), database_url=f"sqlite:///{home / 'dipledger.sqlite3'}", redis_url=broker
        )
        database, waker = open_database(told), Waker(told)
        with house.started("worker"):
            _done(database, waker, 120)  # the worker is there
            taken = [_done(database, waker, 10) for _ in range(FULL_TIMES if run.full else TIMES)]
        database.dispose()
    p95 = statistics.quantiles(taken, n=20, method="inclusive")[-1]
    usual = statistics.median(taken)
    what = (
        f"commit until an owed job is done, 95 of 100, idle worker, SQLite and Redis (median {usual:.3g} ms)"
    )
    run.figure(STARTED, what, p95, median=usual)


def _done(database: Database, waker: Waker, patience_s: float) -> float:
    """Owe the projection of a tub that is not there; gives the milliseconds until it is done."""
    key = new_id()
    with database.writing() as session:
        jobs.owe(session, JOB, key, utc_now(), {"key": key})
    started = time.perf_counter()
    waker.wake()
    while key in _owed(database):
        if time.perf_counter() - started > patience_s:
            raise RuntimeError("no worker came")
        time.sleep(0.0005)
    taken = (time.perf_counter() - started) * 1000
    time.sleep(PAUSE_S)
    return taken


def _owed(database: Database) -> Sequence[str]:
    with database.reading() as session:
        return jobs.outstanding(session, JOB)
