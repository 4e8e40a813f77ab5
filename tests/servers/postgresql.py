"""A PostgreSQL server for tests, and databases copied from a template in milliseconds."""

import os
import signal
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import psycopg
from psycopg import sql
from sqlalchemy.engine import make_url

from tests.servers import binaries
from tests.servers.running import Server, running

NAMED_SERVER = "DIPLEDGER_TEST_DATABASE_URL"
OUR_PREFIX = "dipledger_test"
# Speed for safety, in a folder that is thrown away. TCP only: a socket's path has a length limit.
# The shell makes both steps one process, so that the guard covers the first one too.
SET_UP_AND_RUN = """
{ [ -f "$1/PG_VERSION" ] ||
  "$0/initdb" -D "$1" -U postgres --auth=trust -E UTF8 --locale=C.UTF-8 --no-sync; } &&
data="$1" port="$2" && shift 2 &&
exec "$0/postgres" -D "$data" -h 127.0.0.1 -p "$port" -c unix_socket_directories= -c max_connections=200 "$@"
"""
HASTY = ("fsync=off", "synchronous_commit=off", "full_page_writes=off")


@contextmanager
def postgres(options: Sequence[str] = HASTY) -> Iterator[str]:
    """The SQLAlchemy URL of a superuser on a PostgreSQL that is there for the length of the block.

    It is the server named in DIPLEDGER_TEST_DATABASE_URL, else one of our own, started now with `options`;
    without any it keeps what it acknowledges, as a nursery's does.
    Raises ServerMissing or ServerFailed.
    """
    named = os.environ.get(NAMED_SERVER)
    if named:
        yield named
        return
    with running(Server("postgres", partial(command, options), answers, signal.SIGQUIT)) as port:
        yield f"postgresql+psycopg://postgres@127.0.0.1:{port}/postgres"


def fresh_database(admin_url: str, name: str, template: str = "template0") -> str:
    """Make the database `name` as a copy of `template`, in place of an older one; gives its URL.

    The name must begin with "dipledger_test" (else ValueError): what is replaced on a named server is ours.
    Nobody may be connected to the template. Both are of the server `admin_url` leads to.
    """
    if not name.startswith(OUR_PREFIX):
        raise ValueError(
            f"A database for tests must have a name that begins with {OUR_PREFIX!r}, not {name!r}."
        )
    url = make_url(admin_url)
    names = {"name": sql.Identifier(name), "template": sql.Identifier(template)}
    plain = url.set(drivername="postgresql").render_as_string(hide_password=False)
    with psycopg.connect(plain, autocommit=True) as connection:
        connection.execute(sql.SQL("DROP DATABASE IF EXISTS {name} WITH (FORCE)").format(**names))
        connection.execute(
            sql.SQL("CREATE DATABASE {name} TEMPLATE {template} STRATEGY file_copy").format(**names)
        )
    return url.set(database=name).render_as_string(hide_password=False)


def command(options: Sequence[str], folder: Path, port: int) -> Sequence[str]:
    """What starts it on its data in `folder`, which are made at the first time."""
    program = binaries.within_reach(binaries.postgresql(), folder)
    said = [part for option in options for part in ("-c", option)]
    return ["/bin/sh", "-c", SET_UP_AND_RUN, str(program.parent), str(folder / "data"), str(port), *said]


def answers(folder: Path, port: int) -> bool:
    """Whether it is our server that answers, and not another that took the port first."""
    try:
        with psycopg.connect(
            host="127.0.0.1", port=port, user="postgres", dbname="postgres", connect_timeout=5
        ) as connection:
            found = connection.execute("SHOW data_directory").fetchone()
    except psycopg.OperationalError:
        return False
    return found == (str(folder / "data"),)
