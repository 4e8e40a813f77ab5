"""Bringing a database to this version, a backup taken first; and looking whether it is sound."""

import sqlite3
from dataclasses import dataclass
from pathlib import Path

import orjson
import sqlalchemy as sa
from alembic.script import ScriptDirectory

from service.adoption import adopt_reference
from service.backups import keys, postgresql, sqlite, taking
from service.backups.postgresql import DumpProblem
from service.backups.rules import Unfit
from service.core import migrations
from service.core.clock import utc_now
from service.core.command_line import Opened, Tell
from service.core.settings import Settings
from service.journal.acts import Act

Look = tuple[str, str, bool]  # what was looked at, what was found, whether it is wrong
NEWER = "The database is at {}, which this version does not know: a newer one made it. Install that again."
NO_DUMP = "{} Or add --no-backup when you have taken one in another way."


@dataclass(frozen=True)
class Brought:
    """From which revision (None: there was nothing) to which, the backup from before, what was adopted.

    `key_left`: the private half of the key of backups, when one was taken and it lies in the house.
    """

    was: str | None
    revision: str
    backup: str | None
    adopted: dict[str, int]
    key_left: str | None

    def said(self) -> str:
        """In words."""
        moved = (
            f"at {self.revision}"
            if self.was == self.revision
            else f"brought from {self.was} to {self.revision}"
        )
        kept = f"\nThe backup from before: {self.backup}" if self.backup else ""
        kept += f"\n{keys.warned(Path(self.key_left))}" if self.key_left else ""
        return f"The database is {moved}.{kept}\nAdopted: {orjson.dumps(self.adopted).decode()}"


def bring(settings: Settings, opened: Opened, tell: Tell, *, backup: bool) -> Brought:
    """Bring the database to this version.

    Raises Unfit, OSError, DumpProblem or BackupKeyProblem before anything changes.
    """
    was, wanted = revision_of(opened), migrations.head()
    script = ScriptDirectory.from_config(migrations.config())
    if was is not None and was not in {found.revision for found in script.walk_revisions()}:
        raise Unfit("newer", NEWER.format(was))
    kept = _kept(settings, was, tell) if backup and was not in {None, wanted} else None
    migrations.upgrade(settings.database_url)
    now = utc_now()
    with opened() as database, database.writing() as session:
        adopted = adopt_reference(session, Act("command line", now, now))
    left = keys.left_in(settings.home) if kept else None
    return Brought(
        was,
        wanted,
        backup=None if kept is None else str(kept),
        adopted=adopted,
        key_left=None if left is None else str(left),
    )


def revision_of(opened: Opened) -> str | None:
    """The revision of the database, None when it has no tables."""
    with opened() as database, database.engine.connect() as connection:
        if not sa.inspect(connection).has_table("alembic_version"):
            return None
        found: str | None = connection.scalar(sa.text("SELECT version_num FROM alembic_version"))
        return found


def look(settings: Settings) -> list[Look]:
    """What can be said of the database without its rows being judged; raises DumpProblem, OSError."""
    url = settings.database_url
    if taking.kind_of(url) == "sqlite":
        file = sqlite.path_of(url)
        if not file.exists():
            raise FileNotFoundError(f"There is no database at {file}. Run 'dipledger init' first.")
        faults = sqlite.faults(file)
        found, wrong = _revision_in(file), "; ".join(faults)
        rest: list[Look] = [
            ("soundness", wrong or "no damaged page, no row that points to nothing", bool(faults))
        ]
    else:
        found, safe = postgresql.facts(url)[0], postgresql.settings(url)
        rest = [(name, value, value in {"off", "local"}) for name, value in safe.items()]
    wanted = migrations.head()
    said = f"at {found}" if found == wanted else f"at {found}, not at {wanted}: run 'dipledger db upgrade'"
    return [("version", said, found != wanted), *rest]


def _revision_in(file: Path) -> str:
    try:
        return sqlite.facts(file)[0]
    except sqlite3.Error:
        return "no revision that can be read"


def _kept(settings: Settings, was: str | None, tell: Tell) -> Path:
    folder = settings.home / "backups"
    folder.mkdir(mode=0o700, exist_ok=True)
    now = utc_now()
    file = folder / f"before-upgrade-of-{was}-{now:%Y%m%dT%H%M%SZ}.backup"
    try:
        taking.take(settings, file, keys.key_of(settings.home), now, tell)
    except DumpProblem as problem:
        raise DumpProblem(NO_DUMP.format(problem)) from problem
    return file
