"""Copies of SQLite: one moment while others write, and damaged pages are found."""

import json
import shutil
import sqlite3
import threading
from contextlib import closing
from pathlib import Path

import pytest

from service.backups import sqlite
from service.core.settings import Settings
from tests.backups.running import run_in


@pytest.mark.promise(r=17)
@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_damaged_pages_are_found(settings: Settings, place: Settings) -> None:
    file = sqlite.path_of(settings.database_url)
    target = sqlite.path_of(place.database_url)
    shutil.copyfile(file, target)
    size = target.stat().st_size
    with target.open("r+b") as raw:
        for page in range(10, size // 4096, 7):
            raw.seek(page * 4096)
            raw.write(bytes(range(256)) * 8)
    found = run_in(place)("db", "check", "--json")
    assert found.exit_code == 1
    assert not json.loads(found.stdout)["checks"][-1]["held"]


class Bank:
    """Purses whose sum never changes, written by another connection all the time, each move counted."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.stopped = threading.Event()
        with closing(sqlite3.connect(file)) as made:
            made.execute("PRAGMA journal_mode=WAL")
            made.execute("CREATE TABLE purse (id INTEGER PRIMARY KEY, sum INTEGER, filler BLOB)")
            made.execute("CREATE TABLE moved (times INTEGER)")
            made.execute("INSERT INTO moved VALUES (0)")
            purses = [(n,) for n in range(800)]
            made.executemany("INSERT INTO purse VALUES (?, 1000, randomblob(3000))", purses)
            made.commit()

    def move(self) -> None:
        with closing(sqlite3.connect(self.file, timeout=30)) as own:
            while not self.stopped.is_set():
                times = own.execute("SELECT times FROM moved").fetchone()[0]
                own.execute("BEGIN IMMEDIATE")
                own.execute("UPDATE purse SET sum = sum - 1 WHERE id = ?", [times % 800])
                own.execute("UPDATE purse SET sum = sum + 1 WHERE id = ?", [(times * 37 + 1) % 800])
                own.execute("UPDATE moved SET times = times + 1")
                own.commit()


def one(file: Path, query: str) -> int:
    with closing(sqlite3.connect(file)) as opened:
        return int(opened.execute(query).fetchone()[0])


TIMES, SUM = "SELECT times FROM moved", "SELECT sum(sum) FROM purse"


@pytest.mark.promise(r=17)
def test_a_copy_of_sqlite_while_others_write_is_one_moment_and_a_plain_copy_misses_rows(
    tmp_path: Path,
) -> None:
    """R17 of the promises: 25 copies in a row, and the careless way beside them."""
    bank = Bank(tmp_path / "bank.sqlite3")
    writer = threading.Thread(target=bank.move)
    writer.start()
    stale = 0
    try:
        for n in range(25):
            target, careless = tmp_path / f"copy-{n}.sqlite3", tmp_path / f"careless-{n}.sqlite3"
            before = one(bank.file, TIMES)
            sqlite.copy(bank.file, target, lambda *_: None)
            assert one(target, SUM) == 800_000
            assert one(target, TIMES) >= before
            assert sqlite.faults(target) == []
            before = one(bank.file, TIMES)
            shutil.copyfile(bank.file, careless)
            try:
                stale += one(careless, TIMES) < before
            except sqlite3.Error:
                stale += 1
    finally:
        bank.stopped.set()
        writer.join()
    assert stale > 0
