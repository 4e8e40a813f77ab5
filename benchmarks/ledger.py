"""A house with years of stock ledger, on either database, and its bare driver."""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import psycopg
from sqlalchemy import select
from sqlalchemy.engine import make_url

from benchmarks.reading import settings
from service.adoption import adopt_reference
from service.core.clock import utc_now
from service.core.db import Database
from service.core.ids import new_id
from service.core.migrations import upgrade
from service.journal.acts import Act
from service.reports.actions import rebuild
from service.reports.spans import Span
from service.stores.models import Material, StockBatch
from service.wiring import open_database
from tests.servers import fresh_database, postgres

SHORT, FULL = 500_000, 5_000_000
LINES_A_DAY, BATCHES = 3333, 3  # the full figure is four years; so many batches of each material
REASONS = ("treatment", "redose", "disposal", "receipt")
COLUMNS = 'id, batch_id, amount, active_mg, reason, way, cause_kind, cause_id, at, recorded_at, "by"'
LINE = f"INSERT INTO stock_entry ({COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"  # noqa: S608  # made of constants
Row = tuple[Any, ...]
Driver = Callable[[str], list[Row]]  # a statement in, its rows out


@dataclass(frozen=True)
class House:
    """The service's database, and the same database without the service."""

    database: Database
    driver: Driver


@contextmanager
def house(kind: str, lines: int) -> Iterator[House]:
    """A house on `sqlite` or `postgresql` with so many ledger lines and the rollup made from them."""
    with TemporaryDirectory() as folder, address(kind, Path(folder)) as url:
        upgrade(url)
        database = open_database(replace(settings(Path(folder)), database_url=url))
        batches = _furnished(database)
        driver = _filled(url, _lines(batches, lines))
        with database.writing() as session:
            rebuild(session, Span())
        yield House(database, driver)
        database.dispose()


@contextmanager
def address(kind: str, folder: Path) -> Iterator[str]:
    """The address of an empty database: `sqlite`, a file in `folder`, or `postgresql`, an own server."""
    if kind == "sqlite":
        yield f"sqlite:///{folder / 'bench.sqlite3'}"
        return
    with postgres() as server:
        yield fresh_database(server, "dipledger_test_bench")


def _furnished(database: Database) -> list[str]:
    now = utc_now()
    with database.writing() as session:
        adopt_reference(session, Act("benchmarks", now, now))
        materials = session.scalars(select(Material.id).order_by(Material.code)).all()
        batches = [_batch(material, n) for material in materials for n in range(BATCHES)]
        session.add_all(batches)
        session.flush()
        return [batch.id for batch in batches]


def _filled(url: str, lines: Iterator[Row]) -> Driver:
    """Fill the ledger in; gives the driver."""
    place = make_url(url)
    if place.get_backend_name() == "sqlite":
        connection = sqlite3.connect(str(place.database))
        connection.execute("PRAGMA synchronous=OFF")  # what is filled in here is made again if it is lost
        with connection:
            connection.executemany(LINE, lines)
        return lambda text: connection.execute(text).fetchall()
    server = psycopg.connect(place.set(drivername="postgresql").render_as_string(False), autocommit=True)
    with server.cursor().copy(f"COPY stock_entry ({COLUMNS}) FROM STDIN") as copy:
        for line in lines:
            copy.write_row(line)
    server.execute("ANALYZE")  # what the server does by itself within a minute
    return lambda text: server.execute(text.encode()).fetchall()


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
