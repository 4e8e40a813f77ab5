"""Opening a house for a command: its settings and its database, made where that is wanted."""

import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click
import orjson
from sqlalchemy.orm import Session

from service import wiring
from service.adoption import adopt_reference
from service.clearance.signing import SigningKeyProblem, load, make_key_file
from service.core import migrations
from service.core.clock import utc_now
from service.core.command_line import answer, as_json_option, settings_told, told
from service.core.db import Database
from service.core.settings import SECRET_FILE, Settings, home_folder
from service.journal.acts import Act
from service.reports.heads import check_heads


@click.command()
@click.option("--home", type=click.Path(path_type=Path), default="var/dipledger", envvar="DIPLEDGER_HOME")
@as_json_option
def init(home: Path, as_json: bool) -> None:
    """Make the house: its folder, secret and signing key, database and reference data.

    Use it once. Run again it keeps what is there and makes only what is missing.

    \b
    Example: DIPLEDGER_HOME=/srv/dipledger dipledger init
    """
    migrations.upgrade(begun(home).database_url)
    now = utc_now()
    with database() as opened, opened.writing() as session:
        adopted = adopt_reference(session, Act("command line", now, now))
    text = (
        f"Adopted: {orjson.dumps(adopted).decode()}\nReady in {home}. Next: dipledger user add --role owner "
    )
    answer({"home": str(home), "adopted": adopted}, f"{text}--name NAME; dipledger serve", as_json=as_json)


def begun(home: Path) -> Settings:
    """The settings of a house whose folder, secret and signing key are made where they are missing."""
    home.mkdir(parents=True, exist_ok=True)
    _write_secret(home / SECRET_FILE)
    found = settings_told()
    make_key_file(found.signing_key_file)
    return found


def here() -> Settings:
    """The settings of the house that the environment names, begun where it is missing."""
    return begun(home_folder())


@contextmanager
def database() -> Iterator[Database]:
    """Its database, closed in the end."""
    found = wiring.open_database(settings_told())
    try:
        yield found
    finally:
        found.dispose()


def heads(session: Session, file: Path) -> tuple[int, list[str]]:
    """How many signed heads a file has, and which of them the journal belies."""
    with told(SigningKeyProblem):
        count, wrong = check_heads(session, file, load(settings_told().signing_key_file))
    return count, [f"Line {found.line}: {found.said}." for found in wrong]


def _write_secret(file: Path) -> None:
    if not file.exists():
        file.touch(mode=0o600)
        file.write_text(secrets.token_urlsafe(48) + "\n", "utf-8")
