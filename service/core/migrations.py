"""Alembic from Python: the newest revision, and moving a database to it."""

from importlib.resources import files

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory


def config(database_url: str = "") -> Config:
    """Alembic's configuration without a file; the address may hold a password, so it is not logged."""
    found = Config()
    found.set_main_option("script_location", str(files("migrations")))
    found.attributes["url"] = database_url
    return found


def head() -> str:
    """The newest revision of this code."""
    revision = ScriptDirectory.from_config(config()).get_current_head()
    if revision is None:
        raise RuntimeError("There are no migrations.")
    return revision


def upgrade(database_url: str, revision: str = "head") -> None:
    """Bring the database to `revision`."""
    command.upgrade(config(database_url), revision)


def downgrade(database_url: str, revision: str = "base") -> None:
    """Take the database back to `revision`."""
    command.downgrade(config(database_url), revision)
