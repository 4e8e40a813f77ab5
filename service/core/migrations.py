"""Alembic from Python: the newest revision, and moving a database to it."""

import time
from collections.abc import Callable
from importlib.resources import files

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from psycopg.errors import LockNotAvailable
from sqlalchemy.exc import OperationalError

# A change of a table that waits for a long reader keeps every later reader waiting: give way and come again.
LOCK_WAIT_MS = 200
PAUSE_S = 0.3
TRIES = 60


def config(database_url: str = "") -> Config:
    """Alembic's configuration without a file; the address may hold a password, so it is not logged."""
    found = Config()
    found.set_main_option("script_location", str(files("migrations")))
    found.attributes |= {"url": database_url, "lock_wait_ms": LOCK_WAIT_MS}
    return found


def head() -> str:
    """The newest revision of this code."""
    revision = ScriptDirectory.from_config(config()).get_current_head()
    if revision is None:
        raise RuntimeError("There are no migrations.")
    return revision


def upgrade(database_url: str, revision: str = "head") -> None:
    """Bring the database to `revision`, giving way to whoever uses it."""
    _giving_way(lambda: command.upgrade(config(database_url), revision))


def downgrade(database_url: str, revision: str = "base") -> None:
    """Take the database back to `revision`, giving way to whoever uses it."""
    _giving_way(lambda: command.downgrade(config(database_url), revision))


def _giving_way(move: Callable[[], None]) -> None:
    """Move until no lock was in the way; each migration is a transaction, so none is left half done."""
    for tries_left in reversed(range(TRIES)):
        try:
            move()
        except OperationalError as problem:
            if not isinstance(problem.orig, LockNotAvailable) or not tries_left:
                raise
            time.sleep(PAUSE_S)
        else:
            return
