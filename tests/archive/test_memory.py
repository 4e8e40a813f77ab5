"""What archives cost does not grow with the house."""

import tracemalloc
from datetime import timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import insert

from service.core.clock import utc_now
from service.core.db import Database
from service.core.ids import new_id
from service.core.settings import Settings
from service.tubs.models import TemperatureReading
from tests.archive.running import exported, run_in
from tests.house import settings_for
from tests.make_lots import tub

NOW = utc_now()


def test_writing_and_reading_take_no_more_memory_for_more_rows(
    database: Database, settings: Settings, tmp_path: Path
) -> None:
    where = tub(database, "T1")
    read(database, where, range(3))  # more than is written or read at once
    few = most_memory_of(settings, tmp_path / "few")
    read(database, where, range(3, 15))
    # What was added is 6 MiB of text, and several times that as values of Python.
    assert most_memory_of(settings, tmp_path / "many") < few + 3 * 2**20


def read(database: Database, where: str, thousands: range) -> None:
    """So many thousand readings of a tub."""
    for n in thousands:
        with database.writing() as session:
            session.execute(insert(TemperatureReading), [reading(where, n * 1_000 + m) for m in range(1_000)])


def reading(where: str, n: int) -> dict[str, Any]:
    """A reading of half a kilobyte."""
    return {
        "id": new_id(),
        "tub_id": where,
        "at": NOW - timedelta(minutes=n),
        "celsius": 21.5,
        "entered": {"value": 21.5, "unit": "Cel", "note": "x" * 300},
        "recorded_at": NOW,
        "by": "logger",
    }


def most_memory_of(settings: Settings, home: Path) -> int:
    """The most that writing an archive and reading it back needs at once, in bytes."""
    home.mkdir()
    tracemalloc.start()
    exported(settings, home / "house.zip")
    done = run_in(settings_for(f"sqlite:///{home / 'house.sqlite3'}", home))("import", home / "house.zip")
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert done.exit_code == 0, done.output
    return peak
