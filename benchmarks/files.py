"""B1, B2 and B4: files that come in, against reading the CSV and writing the rows by the driver.

The longest file that the service takes is 5,000 readings of a logger, or 500 lines of shipments: a hundred
thousand lines are many such files, each whole or not at all. The floor of the readings is csv.reader and
executemany (PostgreSQL: COPY) in one transaction; that of the lot lines is csv.reader and the same rows that
the service leaves. B4 asks what another writer on SQLite waits meanwhile, in a process of its own.
"""

import csv
import io
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from typing import Any

import orjson

from benchmarks import acts, effects
from benchmarks.acts import House
from benchmarks.pages import on_driver
from benchmarks.run import CLOCKS, Limit, Run
from benchmarks.wsgi import Request
from service.core.clock import utc_now
from service.core.ids import new_id

IMPORT = {"sqlite": Limit("B1", 1.5, 2.0), "postgresql": Limit("B2", 1.3, 1.8)}
OTHERS = Limit("B4", 10, 25, unit="ms")
READINGS, FULL_READINGS = 1000, 5000  # a file
LINES, FULL_LINES = 50, 500
STEP, BACK = timedelta(minutes=5), timedelta(days=20)
ROUNDS = 5
COLUMNS = 'id, tub_id, at, celsius, entered, recorded_at, "by"'
INSERT = f"INSERT INTO temperature_reading ({COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?)"  # noqa: S608  # our own names
KEPT = "SELECT at, celsius FROM temperature_reading WHERE tub_id = "


def measured(run: Run) -> None:
    """B1 and B2: logs and lot lines on both databases; B4 on SQLite."""
    for kind in CLOCKS:
        with acts.house(kind) as house:
            _log(run, kind, house)
        with acts.house(kind) as house:
            _lot_lines(run, kind, house)
            if kind == "sqlite":
                _others(run, house)


def _log(run: Run, kind: str, house: House) -> None:
    rows = FULL_READINGS if run.full else READINGS
    content = _readings(rows, utc_now() - BACK)
    service = house.send(_logs(house, content), "201", "text/csv")
    driver = house.twin()
    floor, tubs = _plain(driver, kind, content, iter(house.tubs)), iter(house.tubs)

    def same() -> bool:
        service()
        floor()
        tub, place = next(tubs), "?" if kind == "sqlite" else "%s"
        own = on_driver(house.database)
        kept = [sorted(each.execute(KEPT + place, (tub,)).fetchall()) for each in (own, driver)]
        own.close()
        return len(kept[0]) == rows and kept[0] == kept[1]

    what = f"a logger's file of {rows:,} readings, {kind}, against csv.reader and the driver's bulk insert"
    run.ratio(IMPORT[kind], what, floor, service, CLOCKS[kind], same=same, rounds=ROUNDS)


def _plain(driver: Any, kind: str, content: bytes, tubs: Iterator[str]) -> Callable[[], None]:
    def rows() -> Iterator[tuple[Any, ...]]:
        tub, now = next(tubs), utc_now().strftime("%Y-%m-%d %H:%M:%S.%f")
        for at, value in list(csv.reader(io.StringIO(content.decode())))[1:]:
            moment = f"{at[:10]} {at[11:19]}.000000"
            yield new_id(), tub, moment, float(value), f'{{"value": {value}, "unit": "Cel"}}', now, "bench"

    def call() -> None:
        if kind == "sqlite":
            driver.execute("BEGIN IMMEDIATE")
            driver.executemany(INSERT, rows())
            driver.execute("COMMIT")
            return
        with driver.cursor().copy(f"COPY temperature_reading ({COLUMNS}) FROM STDIN") as copy:
            for row in rows():
                copy.write_row(row)

    return call


def _logs(house: House, content: bytes) -> Iterator[Request]:
    yield from ((f"/api/v1/tubs/{tub}/temperatures", content) for tub in house.tubs)


def _readings(rows: int, start: datetime) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(("at", "value"))
    for n in range(rows):
        writer.writerow((f"{start + n * STEP:%Y-%m-%dT%H:%M:%S}Z", round(20 + n % 50 / 10, 1)))
    return text.getvalue().encode()


def _lot_lines(run: Run, kind: str, house: House) -> None:
    lines = FULL_LINES if run.full else LINES
    content = _shipments(lines)
    service = house.send(_files(content), "201", "text/csv")
    effect, copy = acts.effect_of(house, service)
    rows = effects.again(copy, effect)

    def floor() -> None:
        list(csv.reader(io.StringIO(content.decode())))
        rows()

    same = acts.settled(lambda: effects.between(*acts.around(copy, floor)).shape() == effect.shape())
    what = f"a file of {lines} lot lines, {kind}, against csv.reader and the driver leaving the same rows"
    run.ratio(IMPORT[kind], what, floor, service, CLOCKS[kind], same=same, rounds=ROUNDS)


def _files(content: bytes) -> Iterator[Request]:
    while True:
        yield "/api/v1/shipments/import", content


def _shipments(lines: int) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(("shipment", "supplier", "plant", "quantity", "unit_of_sale"))
    for n in range(lines):
        writer.writerow((n // 100, "Fenmarsh Growers", "anubias-barteri", 20 + n % 50, "pot"))
    return text.getvalue().encode()


def _others(run: Run, house: House) -> None:
    lines = FULL_LINES if run.full else LINES
    service = house.send(_files(_shipments(lines)), "201", "text/csv")
    idle = _waits(house, lambda: time.sleep(0.1))
    busy = _waits(house, service)
    told = f"(nobody else: {idle['p99']:.3g} ms; longest meanwhile: {busy['longest']:.3g} ms)"
    what = f"99 of 100 writes of another process while files of {lines} lot lines come in, SQLite {told}"
    run.figure(OTHERS, what, busy["p99"], idle=idle, busy=busy)


def _waits(house: House, work: Callable[[], object]) -> dict[str, float]:
    """What another process waits for its writes, in milliseconds, while `work` is done three times."""
    command = (sys.executable, "-m", "benchmarks.other_writer", str(house.database.engine.url.database))
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as writer:
        if writer.stdout is None or writer.stdin is None:
            raise RuntimeError("the other writer has no pipes")
        writer.stdout.readline()  # it has begun
        for _ in range(3):
            work()
        writer.stdin.close()
        found: dict[str, float] = orjson.loads(writer.stdout.readline())
        return found
