"""A service that dies while it acts: at any statement of an act, before its commit and right after it.

Each attempt is a process of its own, forked, with its own connection to the same database, that ends without
cleaning up (`os._exit`), as after SIGKILL.
"""

import os
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Never

import orjson
from flask import Flask
from sqlalchemy import Engine, event

from service.core import db
from service.core.settings import Settings
from service.wiring import open_database
from tests.engines import ENGINES, new_engine

NOWHERE = 10**9


@dataclass(frozen=True)
class Attempt:
    """Where a process dies: at a statement (1 is the first), before or after its commit, or nowhere."""

    statement: int = NOWHERE
    before_commit: bool = False
    after_commit: bool = False


@dataclass(frozen=True)
class End:
    """How an attempt ended: how many statements it had begun, whether it committed, what it answered."""

    statements: int
    committed: bool
    status: int | None


def attempted(app: Flask, settings: Settings, act: Callable[[], int], attempt: Attempt) -> End:
    """Act in a process that dies there; `act` gives the status of the answer."""
    ENGINES.dispose()  # no connection crosses a fork
    reading, writing = os.pipe()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # the tools' other threads are idle
        child = os.fork()
    if child == 0:
        os.close(reading)
        _act(app, settings, act, _Death(attempt, writing))
    os.close(writing)
    with os.fdopen(reading, "rb") as told:
        end = orjson.loads(told.read())
    os.waitpid(child, 0)
    return End(**end)


def _act(app: Flask, settings: Settings, act: Callable[[], int], death: "_Death") -> Never:
    status: int | None = None
    try:
        db._engine = new_engine  # the parent's engines are not this process's
        database = open_database(settings)
        death.watch(database.engine)
        app.extensions["dipledger.database"] = database
        status = act()
    finally:
        death.come(status)


class _Death:
    """Counts the statements of a process and ends it where the attempt says."""

    def __init__(self, attempt: Attempt, told: int) -> None:
        self._attempt, self._told = attempt, told
        self._statements, self._committed = 0, False

    def watch(self, engine: Engine) -> None:
        event.listen(engine, "before_cursor_execute", self._at_a_statement)
        dialect: Any = engine.dialect
        self._commit = dialect.do_commit
        dialect.do_commit = self._at_a_commit

    def come(self, status: int | None = None) -> Never:
        end = {"statements": self._statements, "committed": self._committed, "status": status}
        os.write(self._told, orjson.dumps(end))
        os._exit(0)

    def _at_a_statement(self, *_: object) -> None:
        self._statements += 1
        if self._statements >= self._attempt.statement:
            self.come()

    def _at_a_commit(self, connection: Any) -> None:
        if self._attempt.before_commit:
            self.come()
        self._commit(connection)
        self._committed = True
        if self._attempt.after_commit:
            self.come()
