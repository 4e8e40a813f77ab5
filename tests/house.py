"""Making houses for tests: prepared databases, settings and tokens."""

import os
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from service.accounts.actions import create_token
from service.accounts.rules import Role
from service.adoption import adopt_reference
from service.core.clock import utc_now
from service.core.db import Database
from service.core.migrations import upgrade
from service.core.settings import Settings
from service.journal.acts import Act
from service.wiring import open_database
from tests.engines import ENGINES
from tests.rewound import Rewound, named, run
from tests.servers import postgres

PREPARED = "prepared"  # migrated, with the reference data and a token of every role
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
        requests_per_minute=1_000_000,
    )


def tokens(database: Database, now: datetime) -> Mapping[Role, str]:
    """A token of every role, each made by somebody else: so each counts as another person."""
    with database.writing() as session:
        makers = {role: Act(f"who made the {role}'s token", now, now) for role in Role}
        return {
            role: create_token(session, act, name=f"the {role}", role=role, days=90)[1]
            for role, act in makers.items()
        }


class Templates:
    """Prepared databases of each kind, and ones to work with that are taken back to them for every test."""

    def __init__(self, folder: Path, server: str) -> None:
        self._folder = folder
        self._server = server
        self._rewound: dict[str, Rewound] = {}
        sqlite = prepare(f"sqlite:///{self._file(PREPARED)}", folder)
        run(server, f'CREATE DATABASE "{_named(PREPARED)}"')
        self.tokens = {"sqlite": sqlite, "postgresql": prepare(named(server, _named(PREPARED)), folder)}

    @classmethod
    @contextmanager
    def made(cls, folder: Path) -> Iterator["Templates"]:
        """Start the server and make both templates."""
        with postgres() as server:
            yield cls(folder, server)

    def afresh(self, kind: str, name: str = PREPARED) -> str:
        """The address of the database to work with, as it was prepared; what was done in it is gone.

        With a name: as it was when it was kept under that name.
        """
        ENGINES.dispose()
        if kind == "postgresql":
            return self._rewinding(name).address()
        file = self._folder / "afresh.sqlite3"
        for left in (file, Path(f"{file}-wal"), Path(f"{file}-shm")):
            left.unlink(missing_ok=True)
        shutil.copyfile(self._file(name), file)
        return f"sqlite:///{file}"

    def keep(self, kind: str, name: str) -> None:
        """Keep the database to work with, as it is now, under a name; nobody may be connected to it."""
        ENGINES.dispose()
        if kind == "postgresql":
            self._rewound.pop(name, None)
            self._rewinding(PREPARED).keep(_named(name))
        else:
            shutil.copyfile(self._folder / "afresh.sqlite3", self._file(name))

    def _file(self, name: str) -> Path:
        return self._folder / f"{name}.sqlite3"

    def _rewinding(self, name: str) -> Rewound:
        if name not in self._rewound:
            self._rewound[name] = Rewound(self._server, f"rewound_{_named(name)}", _named(name))
        return self._rewound[name]

    @contextmanager
    def empty(self, kind: str, name: str, folder: Path) -> Iterator[str]:
        """The address of a new database without a table, dropped at the end."""
        if kind == "sqlite":
            yield f"sqlite:///{folder / name}.sqlite3"
            return
        run(self._server, f'CREATE DATABASE "{name}"')
        yield named(self._server, name)
        run(self._server, f'DROP DATABASE "{name}" WITH (FORCE)')


def prepare(url: str, folder: Path) -> Mapping[Role, str]:
    """Migrate a database and load the reference data into it; gives a token of every role."""
    upgrade(url)
    database = open_database(settings_for(url, folder))
    now = utc_now()
    with database.writing() as session:
        adopt_reference(session, Act("tests", now, now))
    found = tokens(database, now)
    # Closing the last connection folds SQLite's log into its file, which is then whole.
    database.dispose()
    return found


def _named(name: str) -> str:
    """What a kept database is called on a server that other runs use too."""
    return f"{name}_{os.getpid()}"
