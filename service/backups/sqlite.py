"""SQLite: a copy by its own backup interface, and whether a file is sound.

A copy of the file itself misses what is in the log beside it, and may pass the integrity check all the same.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from sqlalchemy.engine import make_url

from service.core.command_line import Tell

PAGES_AT_ONCE = 2000
NAMED = 5  # of what is wrong


def path_of(url: str) -> Path:
    """The file of a database."""
    return Path(make_url(url).database or "")


def beside(file: Path) -> list[Path]:
    """The files that SQLite keeps beside its own; a new file must never meet those of an old one."""
    return [file.with_name(f"{file.name}{end}") for end in ("-wal", "-shm", "-journal")]


def copy(source: Path, target: Path, tell: Tell) -> None:
    """Copy a database as it is at one moment, while others write; raises sqlite3.Error."""
    with _opened(source) as old, closing(sqlite3.connect(target)) as new:
        # One reading transaction around it: without, every write of somebody else begins the copy anew.
        old.execute("BEGIN")
        old.execute("SELECT count(*) FROM sqlite_master").fetchone()
        old.backup(
            new, pages=PAGES_AT_ONCE, progress=lambda _, left, of_all: tell("copying", of_all - left, of_all)
        )
        new.execute("PRAGMA journal_mode=DELETE")


def facts(file: Path) -> tuple[str, int, str]:
    """Revision, number of journal entries, and the hash of the last; raises sqlite3.Error."""
    with _opened(file) as opened:
        [revision] = opened.execute("SELECT version_num FROM alembic_version").fetchone()
        entries, head = opened.execute("SELECT seq, hash FROM journal_head WHERE id = 1").fetchone()
    return str(revision), int(entries), str(head)


def faults(file: Path) -> list[str]:
    """What is wrong with the file: its pages, its indexes, rows that point to nothing."""
    try:
        with _opened(file) as opened:
            broken = [text for (text,) in opened.execute("PRAGMA integrity_check") if text != "ok"]
            keys = opened.execute("PRAGMA foreign_key_check").fetchmany(NAMED)
    except sqlite3.Error as problem:
        return [str(problem)]
    pointless = [f"row {row} of {table} points to nothing in {other}" for table, row, other, _ in keys]
    return [*broken[:NAMED], *pointless]


def folded(file: Path) -> None:
    """Fold the log into the file, so that it is whole without those beside it; raises sqlite3.Error."""
    with _opened(file) as opened:
        opened.execute("PRAGMA journal_mode=DELETE")


@contextmanager
def _opened(file: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(f"{file.absolute().as_uri()}?mode=rw", uri=True)) as found:
        found.isolation_level = None
        yield found
