"""L1: the consumption report over years of ledger lines, against bare SQL and the un-indexed aggregate."""

import sqlite3
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from sqlalchemy import select

from benchmarks.reading import settings
from service.adoption import adopt_reference
from service.core.clock import utc_now
from service.core.db import Database
from service.core.ids import new_id
from service.core.migrations import upgrade
from service.journal.acts import Act
from service.reports.actions import rebuild
from service.reports.consumption import consumption
from service.reports.rules import By
from service.reports.spans import Span
from service.stores.models import Material, StockBatch
from service.wiring import open_database

SHORT, FULL = 500_000, 5_000_000
LINES_A_DAY, BATCHES = 3333, 3  # the full figure is four years; so many batches of each material
REASONS = ("treatment", "redose", "disposal", "receipt")
Row = tuple[Any, ...]  # material, used, active mass in mg: of use, poured away, left; cost in millionths
LINE = (
    "INSERT INTO stock_entry (id, batch_id, amount, active_mg, reason, way, cause_kind, cause_id, at,"
    ' recorded_at, "by") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)'
)
FLOOR = """
SELECT m.code, c.reason, SUM(used), COUNT(*), SUM(active_mg), COUNT(active_mg), SUM(discharged_mg),
       COUNT(discharged_mg), SUM(left_mg), COUNT(left_mg), SUM(cost_micro), COUNT(cost_micro),
       MIN(c.currency), MAX(c.currency)
FROM consumption_day c JOIN material m ON m.id = c.material_id
GROUP BY c.material_id, c.reason ORDER BY m.code
"""
# The unary plus keeps SQLite from any index, as the table would be read without them.
AGGREGATE = """
SELECT m.code,
       SUM(CASE WHEN e.reason IN ('neutralise', 'redose', 'treatment') THEN -e.amount ELSE 0 END),
       SUM(CASE WHEN e.reason IN ('neutralise', 'redose', 'treatment') THEN -e.active_mg ELSE 0 END),
       SUM(CASE WHEN e.reason <> 'disposal' OR e.way IN ('sewer', 'spilled') THEN -e.active_mg ELSE 0 END),
       SUM(CASE WHEN e.reason <> 'disposal' OR e.way IN ('sewer', 'spilled') THEN -e.active_mg ELSE 0 END)
FROM stock_entry e JOIN stock_batch b ON b.id = e.batch_id JOIN material m ON m.id = b.material_id
WHERE +e.reason IN ('disposal', 'neutralise', 'redose', 'spill', 'treatment')
  AND e.id NOT IN (SELECT reverses_id FROM stock_entry WHERE reverses_id IS NOT NULL)
GROUP BY m.code ORDER BY m.code
"""


def house(home: Path, lines: int) -> Database:
    """A house whose ledger has so many lines, with its rollup made from them."""
    found = settings(home)
    upgrade(found.database_url)
    database = open_database(found)
    now = utc_now()
    with database.writing() as session:
        adopt_reference(session, Act("benchmarks", now, now))
        materials = session.scalars(select(Material.id).order_by(Material.code)).all()
        batches = [_batch(material, n) for material in materials for n in range(BATCHES)]
        session.add_all(batches)
        session.flush()
        ids = [batch.id for batch in batches]
    connection = sqlite3.connect(home / "bench.sqlite3")
    connection.execute("PRAGMA synchronous=OFF")  # what is filled in here is made again if it is lost
    with connection:
        connection.executemany(LINE, _lines(ids, lines))
    connection.close()
    with database.writing() as session:
        rebuild(session, Span())
    return database


def _batch(material: str, n: int) -> StockBatch:
    at = datetime(2022, 1, 1, tzinfo=UTC)
    return StockBatch(
        material_id=material,
        batch_number=f"B{n}",
        received_at=at,
        received=10**12,
        balance=10**12,
        cost_minor=100_000,
        currency="EUR",
    )


def _lines(batches: list[str], count: int) -> Iterator[tuple[Any, ...]]:
    start = datetime(2022, 1, 1, 8, tzinfo=UTC)
    step = timedelta(days=1) / LINES_A_DAY
    for n in range(count):
        at = (start + n * step).strftime("%Y-%m-%d %H:%M:%S.%f")
        reason = REASONS[n // len(batches) * 7 % 11 % 4]
        amount = 10_000 + n % 977 if reason == "receipt" else -(1 + n % 977)
        way = ("sewer", "hazardous_waste")[n % 2] if reason == "disposal" else None
        batch = batches[n % len(batches)]
        yield new_id(), batch, amount, amount // 10, reason, way, "bench", str(n), at, at, "bench"


def product(database: Database) -> Callable[[], list[Row]]:
    """The service's function, all materials over all years, without HTTP."""

    def call() -> list[Row]:
        with database.reading() as session:
            rows = consumption(session, Span(), By.MATERIAL)
        return [_plain(row) for row in rows]

    return call


def _plain(row: dict[str, Any]) -> Row:
    names = ("used", "active_mass", "active_mass_discharged", "active_mass_after_neutralising")
    masses = (int(row[name].amount.value) for name in names)
    return row["material"], *masses, row["cost"]["value"]


def floor(home: Path) -> Callable[[], list[Row]]:
    """The same sums on the driver, put together by hand: disposals only count as poured away."""
    connection = sqlite3.connect(home / "bench.sqlite3")

    def call() -> list[Row]:
        found: dict[str, list[Any]] = {}
        for code, reason, *sums, first, last in connection.execute(FLOOR):
            used, active, away, left, cost = (_known(sums, place) for place in range(0, 10, 2))
            row = found.setdefault(code, [code, 0, 0, 0, 0, 0])
            row[3], row[4] = _plus(row[3], away), _plus(row[4], left)
            if reason != "disposal":
                row[1], row[2] = row[1] + used, _plus(row[2], active)
                row[5] = _plus(row[5], cost if first == last else None)
        return [tuple(row) for row in found.values()]

    return call


def _known(sums: list[Any], place: int) -> int | None:
    total: int = sums[place]
    return total if sums[place + 1] == sums[1] else None


def _plus(one: int | None, other: int | None) -> int | None:
    return None if one is None or other is None else one + other


def aggregate(home: Path) -> Callable[[], list[Row]]:
    """The ledger itself added up, without an index and without the cost of each line."""
    connection = sqlite3.connect(home / "bench.sqlite3")
    return lambda: connection.execute(AGGREGATE).fetchall()


def same(report: list[Row], rolled: list[Row], added: list[Row]) -> bool:
    """Whether all three give the same answer; the aggregate tells no cost, which is rounded line by line."""
    told = [(*row[:-1], round(Decimal(row[-1]), 4)) for row in report]
    bare_rows = [(*row[:-1], round(Decimal(row[-1]) / 10**6, 4)) for row in rolled]
    return told == bare_rows and [row[:-1] for row in report] == added and bool(report)


def seconds(job: Callable[[], object], rounds: int = 3) -> float:
    """The least CPU time of a few runs of a job too slow for slices."""
    spent = []
    for _ in range(rounds):
        started = time.process_time()
        job()
        spent.append(time.process_time() - started)
    return min(spent)
