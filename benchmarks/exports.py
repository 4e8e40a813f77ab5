"""B5: the whole of a house as an archive, against the database writing the same lines itself.

An archive is a zip with one line of JSON a row. The floor has SQLite make every line (`json_object`) and only
passes it on into a zip of the same kind; it leaves out what the service does beside it: a digest of each
table, members without a value left out, moments in the form of RFC 3339.
"""

import time
import zipfile
from collections.abc import Callable
from contextlib import closing
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import orjson

from benchmarks.effects import tables
from benchmarks.pages import on_driver
from benchmarks.reading import house as house_of_lots
from benchmarks.run import Limit, Run
from service.archive.rules import LEFT_OUT, file_of
from service.archive.writing import Origin, write
from service.core.clock import utc_now
from service.core.db import Database, snapshot

EXPORT = Limit("B5", 1.3, 2.0)
LOTS, FULL_LOTS = 1000, 100_000
ROUNDS = 5
Written = Callable[[], Path]


def measured(run: Run) -> None:
    """B5 on SQLite."""
    with TemporaryDirectory() as name:
        folder, lots = Path(name), FULL_LOTS if run.full else LOTS
        _, database, _ = house_of_lots(folder, lots=lots)
        with closing(on_driver(database)) as driver:
            service, floor = _service(database, folder), _floor(driver, folder)
            what = f"archive of a house with {lots:,} lots, SQLite, against json_object into a like zip"
            same = lambda: _lots(service()) == _lots(floor()) != []  # noqa: E731  # asked once
            run.ratio(EXPORT, what, floor, service, time.process_time, same=same, rounds=ROUNDS)
        database.dispose()


def _service(database: Database, folder: Path) -> Written:
    numbers, origin = count(), Origin("http://127.0.0.1:8000", {}, utc_now())

    def call() -> Path:
        file = folder / f"archive-{next(numbers)}.zip"
        with snapshot(database) as session:
            write(session, file, origin, lambda *_: None)
        return file

    return call


def _floor(driver: Any, folder: Path) -> Written:
    asked = {table.name: _line(table) for table in tables() if table.name not in LEFT_OUT}
    file = folder / "floor.zip"

    def call() -> Path:
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
            driver.execute("BEGIN")
            for name, statement in asked.items():
                with archive.open(file_of(name), "w", force_zip64=True) as part:
                    for (line,) in driver.execute(statement):
                        part.write(line.encode() + b"\n")
            driver.execute("COMMIT")
        return file

    return call


def _line(table: Any) -> str:
    members = ", ".join(f"'{column.name}', {_value(column)}" for column in table.columns)
    keys = ", ".join(f'"{column.name}"' for column in table.primary_key.columns)
    return f'SELECT json_object({members}) FROM "{table.name}" ORDER BY {keys}'  # noqa: S608  # our own names


def _value(column: Any) -> str:
    kind = type(column.type).__name__
    if kind == "JSON":
        return f'json("{column.name}")'
    return f'hex("{column.name}")' if kind == "LargeBinary" else f'"{column.name}"'


def _lots(file: Path) -> list[dict[str, Any]]:
    """The lots of an archive; of both what can be compared: no empty member, no moment, no answer."""
    with zipfile.ZipFile(file) as archive:
        lines = archive.read(file_of("lot")).splitlines()
    rows = (orjson.loads(line) for line in lines)
    return [
        {
            name: value
            for name, value in row.items()
            if value is not None
            and type(value) is not bool
            and value not in (0, 1)
            and not name.endswith(("_at", "since"))
        }
        for row in rows
    ]
