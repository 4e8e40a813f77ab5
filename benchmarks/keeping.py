"""L2: a day's lines of the ledger with the rollup kept, against writing the lines alone.

The service keeps no sum in the transaction of a line: the line owes the rollup of its day, and the worker
computes that day anew from the ledger, once for all the lines that came meanwhile. So what keeping costs is
asked of a day: its lines are written by the driver, and the service's job makes the day's rollup from them.
At worst the worker comes after every line; what one such coming costs is told beside it.
"""

import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import count
from typing import Any

from sqlalchemy import func, select

from benchmarks import ledger
from benchmarks.consuming import seconds
from benchmarks.pages import on_driver
from benchmarks.run import CLOCKS, Limit, Run
from service.core.clock import utc_now
from service.core.ids import new_id
from service.reports.actions import roll_up
from service.reports.models import ConsumptionDay
from service.stores.models import StockBatch

UPKEEP = Limit("L2", 2.0, 2.6)
HISTORY, FULL_HISTORY = 20_000, 500_000
ROUNDS = 7
FIRST = datetime(2030, 1, 1, 8, tzinfo=UTC)


def measured(run: Run) -> None:
    """L2 on both databases."""
    for kind, clock in CLOCKS.items():
        with ledger.house(kind, FULL_HISTORY if run.full else HISTORY) as house:
            days = count()
            driver = on_driver(house.database)
            with house.database.reading() as session:
                batches = list(session.scalars(select(StockBatch.id)))
            insert = _inserting(driver, kind, batches)
            kept = _keeping(house.database, insert, days)
            what = (
                f"{ledger.LINES_A_DAY:,} lines of a day's ledger with their rollup, {kind}, against the lines"
                f" alone (a worker that comes for one line more: {_once(house.database, kept):.3g} ms)"
            )
            alone = lambda: insert(next(days))  # noqa: E731, B023  # asked at once
            run.ratio(
                UPKEEP,
                what,
                alone,
                kept,
                clock,
                same=lambda: _rolled(house.database, kept) > 0,  # noqa: B023  # asked at once
                rounds=ROUNDS,
            )
            driver.close()


def _inserting(driver: Any, kind: str, batches: list[str]) -> Callable[[int], None]:
    statement = ledger.LINE if kind == "sqlite" else ledger.LINE.replace("?", "%s")
    begin = "BEGIN IMMEDIATE" if kind == "sqlite" else "BEGIN"
    cursor = driver.cursor()

    def insert(day: int) -> None:
        driver.execute(begin)
        cursor.executemany(statement, list(_lines(day, batches)))
        driver.execute("COMMIT")

    return insert


def _lines(day: int, batches: list[str]) -> Iterator[tuple[Any, ...]]:
    at = (FIRST + timedelta(days=day)).strftime("%Y-%m-%d %H:%M:%S.%f")
    for n in range(ledger.LINES_A_DAY):
        reason = ledger.REASONS[n % 2]
        amount = -(1 + n % 977)
        batch = batches[n % len(batches)]
        yield new_id(), batch, amount, amount // 10, reason, None, "bench", str(n), at, at, "bench"


def _keeping(database: Any, insert: Callable[[int], None], days: Iterator[int]) -> Callable[[], str]:
    def call() -> str:
        day = next(days)
        insert(day)
        told = (FIRST + timedelta(days=day)).date().isoformat()
        with database.writing() as session:
            roll_up(session, {"day": told}, utc_now())
        return told

    return call


def _rolled(database: Any, kept: Callable[[], str]) -> int:
    day = datetime.fromisoformat(kept()).date()
    with database.reading() as session:
        used = session.scalar(select(func.sum(ConsumptionDay.used)).where(ConsumptionDay.day == day))
    wanted = sum(1 + n % 977 for n in range(ledger.LINES_A_DAY))
    return int(used or 0) if used == wanted else 0


def _once(database: Any, kept: Callable[[], str]) -> float:
    day = kept()

    def call() -> None:
        with database.writing() as session:
            roll_up(session, {"day": day}, utc_now())

    return seconds(call, time.perf_counter) * 1000
