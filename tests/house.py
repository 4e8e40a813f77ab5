"""Making houses for tests: template databases, their copies, settings and tokens."""

import os
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from sqlalchemy import create_engine, text
from sqlalchemy.engine import make_url

from service.accounts.actions import create_token
from service.accounts.rules import Role
from service.adoption import adopt_reference
from service.core.clock import utc_now
from service.core.db import Database
from service.core.migrations import upgrade
from service.core.settings import Settings
from service.journal.acts import Act
from service.wiring import open_database
from tests.servers import postgres

SECRET = "a-secret-of-the-tests-0123456789-abcdefghij"


def settings_for(url: str, home: Path, redis_url: str | None = None) -> Settings:
    """Settings of a test house."""
    return Settings(
        home=home,
        database_url=url,
        redis_url=redis_url,
        secret=SECRET,
        signing_key_file=home / "signing-key.json",
        public_url="https://nursery.example",
        log_level="WARNING",
    )


def tokens(database: Database, now: datetime) -> Mapping[Role, str]:
    """A token of every role."""
    with database.writing() as session:
        act = Act("tests", now, now)
        return {role: create_token(session, act, name=f"the {role}", role=role, days=90)[1] for role in Role}


class Templates:
    """A template of each kind of database."""

    def __init__(self, folder: Path, server: str) -> None:
        self._file = folder / "template.sqlite3"
        self._server = server
        self._name = f"template_{os.getpid()}"
        prepare(f"sqlite:///{self._file}", folder)
        _run(server, f'CREATE DATABASE "{self._name}"')
        prepare(_named(server, self._name), folder)

    @classmethod
    @contextmanager
    def made(cls, folder: Path) -> Iterator["Templates"]:
        """Start the server and make both templates."""
        with postgres() as server:
            yield cls(folder, server)

    @contextmanager
    def copied(self, kind: str, name: str, folder: Path) -> Iterator[str]:
        """The address of a fresh copy, dropped at the end."""
        if kind == "sqlite":
            file = folder / f"{name}.sqlite3"
            shutil.copyfile(self._file, file)
            yield f"sqlite:///{file}"
            return
        _run(self._server, f'CREATE DATABASE "{name}" TEMPLATE "{self._name}" STRATEGY file_copy')
        yield _named(self._server, name)
        _run(self._server, f'DROP DATABASE "{name}" WITH (FORCE)')

    @contextmanager
    def empty(self, kind: str, name: str, folder: Path) -> Iterator[str]:
        """The address of a new database without a table, dropped at the end."""
        if kind == "sqlite":
            yield f"sqlite:///{folder / name}.sqlite3"
            return
        _run(self._server, f'CREATE DATABASE "{name}"')
        yield _named(self._server, name)
        _run(self._server, f'DROP DATABASE "{name}" WITH (FORCE)')


def prepare(url: str, folder: Path) -> None:
    """Migrate a database and load the reference data into it."""
    upgrade(url)
    database = open_database(settings_for(url, folder))
    now = utc_now()
    with database.writing() as session:
        adopt_reference(session, Act("tests", now, now))
    # Closing the last connection folds SQLite's log into its file, which is then whole.
    database.dispose()


def _named(server: str, name: str) -> str:
    return make_url(server).set(database=name).render_as_string(hide_password=False)


def _run(server: str, statement: str) -> None:
    engine = create_engine(server, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(statement))
    engine.dispose()
