"""PostgreSQL: its own programs write and read a dump in their custom format."""

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
from psycopg.conninfo import make_conninfo
from sqlalchemy.engine import make_url

from service.backups.rules import Unfit

DEBIAN = Path("/usr/lib/postgresql")
MISSING = (
    "{} is not installed here. Install the client programs of PostgreSQL, of the server's release or newer "
    "(Debian: postgresql-client), or run this on a machine that has them."
)


class DumpProblem(Exception):
    """A program of PostgreSQL is missing or failed; the message says what it said."""


def dump(url: str, target: Path) -> tuple[str, int, str]:
    """Write a dump of the database as it is at one moment; gives revision, entries and head of that moment.

    Raises DumpProblem.
    """
    program = _program("pg_dump")
    with _connected(url) as connection, connection.transaction():
        connection.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        [moment] = _row(connection, "SELECT pg_export_snapshot()")
        found = _facts(connection)
        _run(url, program, "--format=custom", f"--snapshot={moment}", f"--file={target}")
    return found


def facts(url: str) -> tuple[str, int, str]:
    """Revision, number of journal entries, and the hash of the last; raises DumpProblem."""
    with _connected(url) as connection:
        return _facts(connection)


def _facts(connection: psycopg.Connection[tuple[object, ...]]) -> tuple[str, int, str]:
    [revision] = _row(connection, "SELECT version_num FROM alembic_version")
    entries, head = _row(connection, "SELECT seq, hash FROM journal_head WHERE id = 1")
    return str(revision), int(str(entries)), str(head)


def fill(url: str, source: Path) -> None:
    """Read a dump into an empty database, in one transaction; raises DumpProblem."""
    program = _program("pg_restore")
    whole = ("--single-transaction", "--exit-on-error", "--no-owner", "--no-privileges")
    _run(url, program, *whole, str(source))


def listed(source: Path) -> None:
    """Read the list of contents of a dump; raises DumpProblem when it has none."""
    _run("", _program("pg_restore"), "--list", str(source))


def emptied(url: str) -> None:
    """Take away what `fill` made in a database that was empty."""
    with _connected(url) as connection, connection.transaction():
        names = connection.execute("SELECT tablename FROM pg_tables WHERE schemaname = current_schema()")
        for (name,) in names.fetchall():
            connection.execute(
                psycopg.sql.SQL("DROP TABLE {} CASCADE").format(psycopg.sql.Identifier(str(name)))
            )
        connection.execute("DROP FUNCTION IF EXISTS refuse_change()")


def refuse_full(url: str) -> None:
    """Raise Unfit when there is a table in the database."""
    with _connected(url) as connection:
        found = connection.execute("SELECT 1 FROM pg_tables WHERE schemaname = current_schema() LIMIT 1")
        if found.fetchone() is None:
            return
    name = make_url(url).database
    detail = (
        f"The database {name} is not empty, and nothing is ever written over. Make a new one "
        "(createdb --owner=dipledger NEW) and set DIPLEDGER_DATABASE_URL to it."
    )
    raise Unfit("not-empty", detail)


def settings(url: str) -> dict[str, str]:
    """What decides whether a commit survives a power cut."""
    names = ("fsync", "full_page_writes", "synchronous_commit")
    with _connected(url) as connection:
        return {name: str(_row(connection, f"SHOW {name}")[0]) for name in names}


def _program(name: str) -> str:
    found = shutil.which(name)
    if found:
        return found
    there = [folder / "bin" / name for folder in DEBIAN.glob("*") if (folder / "bin" / name).exists()]
    if not there:
        raise DumpProblem(MISSING.format(name))
    return str(max(there, key=lambda path: float(path.parts[-3])))


def _run(url: str, program: str, *arguments: str) -> None:
    # The password goes by the environment: everybody on the machine sees the words of a command.
    reached = ["--no-password", f"--dbname={_address(url)}"] if url else []
    password = {"PGPASSWORD": make_url(url).password or ""} if url and make_url(url).password else {}
    command = [program, *reached, *arguments]
    done = subprocess.run(
        command, env={**os.environ, **password}, capture_output=True, text=True, check=False
    )
    if done.returncode != 0:
        said = done.stderr.strip() or f"it ended with {done.returncode}"
        raise DumpProblem(f"{Path(program).name} failed: {said}")


@contextmanager
def _connected(url: str) -> Iterator[psycopg.Connection[tuple[object, ...]]]:
    try:
        with psycopg.connect(_address(url), password=make_url(url).password, autocommit=True) as found:
            yield found
    except psycopg.Error as problem:
        raise DumpProblem(f"The database does not answer: {str(problem).strip()}") from problem


def _row(connection: psycopg.Connection[tuple[object, ...]], query: str) -> tuple[object, ...]:
    found = connection.execute(query).fetchone()
    if found is None:
        raise DumpProblem("The database is not one of Dipledger.")
    return tuple(found)


def _address(url: str) -> str:
    found = make_url(url)
    more = {name: value if isinstance(value, str) else ",".join(value) for name, value in found.query.items()}
    known = {"host": found.host, "port": found.port, "user": found.username, "dbname": found.database}
    return make_conninfo(**{name: str(value) for name, value in known.items() if value is not None}, **more)
