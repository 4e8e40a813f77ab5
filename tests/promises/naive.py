"""A house without its locks: the control of the tests of races, which has to fail them.

Rows are read without FOR UPDATE, versions are not compared, and SQLite begins as its driver would by itself:
with the first write and not before the first read. The head of the journal keeps its lock: without it nothing
could be committed twice at once, and no race would come to its end.
"""

import re
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import pytest
from flask import Flask
from sqlalchemy import Engine, event
from structlog.testing import capture_logs

from service.core import db, lane
from service.core.settings import Settings
from service.wiring import open_database
from tests.engines import new_engine

VERSION = re.compile(r"(\.version) = (\?|%\(\w+\)s)(?!\w)")
LOCK = re.compile(r"\s+FOR UPDATE( OF \w+)?( SKIP LOCKED)?")


@contextmanager
def naive_house(app: Flask, settings: Settings, lock_wait_s: float = db.LOCK_WAIT_S) -> Iterator[None]:
    """The application speaks to the same database without locks while this lasts."""
    kept = app.extensions["dipledger.database"]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(db, "_engine", _naive_engine)
        found = open_database(settings, lock_wait_s)
    app.extensions["dipledger.database"] = found
    try:
        with capture_logs():  # what goes wrong in it is wanted
            yield
    finally:
        app.extensions["dipledger.database"] = kept
        found.dispose()


def at_once(acts: Sequence[Callable[[], Any]]) -> list[Any]:
    """What each of these acts gave, all begun at the same moment, in their order."""
    start = threading.Barrier(len(acts))
    given: list[Any] = [None] * len(acts)

    def do(n: int) -> None:
        start.wait()
        given[n] = acts[n]()

    threads = [threading.Thread(target=do, args=(n,)) for n in range(len(acts))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return given


def _naive_engine(url: str, lock_wait_s: float) -> Engine:
    engine = new_engine(url, lock_wait_s)
    if engine.dialect.name == "sqlite":
        event.remove(engine, "begin", lane.begin)
        event.listen(engine, "connect", _by_itself)
    event.listen(engine, "before_cursor_execute", _unlocked, retval=True)
    return engine


def _by_itself(connection: Any, _record: object) -> None:
    connection.isolation_level = ""  # the driver's default: BEGIN before the first write


def _unlocked(
    _conn: Any, _cursor: Any, statement: str, parameters: Any, _context: Any, _many: bool
) -> tuple[str, Any]:
    if "journal_head" not in statement:
        statement = LOCK.sub("", statement)
    if statement.startswith("UPDATE"):
        statement = VERSION.sub(r"\1 <> -abs(\2)", statement)
    return statement, parameters
