"""The command `dipledger`."""

import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click
import orjson
from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session

from service import wiring
from service.accounts.commands import user_commands
from service.accounts.token_commands import token_commands
from service.adoption import adopt_reference
from service.adoption_commands import reference_commands
from service.archive.commands import export_command, import_command
from service.backups.commands import db_commands
from service.clearance.commands import key_commands, verify_file
from service.clearance.signing import SigningKeyProblem, load, make_key_file
from service.core import migrations
from service.core.clock import utc_now
from service.core.command_line import Refused, answer, as_json_option, told
from service.core.db import Database
from service.core.durability import UnsafeDatabase, refuse_unsafe
from service.core.settings import SECRET_FILE, Settings, SettingsProblem, home_folder, read_settings
from service.demo.playing import demo
from service.journal.acts import Act
from service.journal.commands import journal_commands
from service.processes import beat_command, supervise, web_command, worker_command
from service.recalls.commands import erase_command
from service.reports.commands import check_command, rebuild_command
from service.reports.heads import check_heads

HELP = """Dipledger: plant lots from shipment to clearance statement.

\b
To look around:       dipledger demo
A new house:          dipledger init
                      dipledger user add --role owner --name NAME
                      dipledger serve
Each night:           dipledger db backup /backups
A new version:        dipledger db upgrade
Is it all right?      dipledger db check; dipledger journal check; dipledger check

Every command has --help with an example and when to use it; those that answer have --json. Exit codes: 0
done or all is well, 1 refused or something is wrong (why stands on standard error, with --json on standard
output), 2 misspelt, 3 the house is not empty. Which house it is about: DIPLEDGER_HOME,
DIPLEDGER_DATABASE_URL (docs/operations.md).
"""

ALL_THE_SAME = "Put it right, or start all the same with DIPLEDGER_UNSAFE_DATABASE=yes."


@click.group(help=HELP)
@click.version_option(package_name="dipledger")
def main() -> None:
    """Read `HELP`."""


@main.command()
@click.option("--home", type=click.Path(path_type=Path), default="var/dipledger", envvar="DIPLEDGER_HOME")
@as_json_option
def init(home: Path, as_json: bool) -> None:
    """Make the house: its folder, secret and signing key, database and reference data.

    Use it once. Run again it keeps what is there and makes only what is missing.

    \b
    Example: DIPLEDGER_HOME=/srv/dipledger dipledger init
    """
    settings = _begun(home)
    migrations.upgrade(settings.database_url)
    now = utc_now()
    with _database() as database, database.writing() as session:
        adopted = adopt_reference(session, Act("command line", now, now))
    text = (
        f"Adopted: {orjson.dumps(adopted).decode()}\nReady in {home}. Next: dipledger user add --role owner "
    )
    answer({"home": str(home), "adopted": adopted}, f"{text}--name NAME; dipledger serve", as_json=as_json)


at_host = click.option("--host", default="127.0.0.1", show_default=True, help="Where it listens.")
at_port = click.option("--port", default=8000, show_default=True)


@main.command("serve")
@at_host
@at_port
def serve_all(host: str, port: int) -> None:
    """Run web, worker and beat as one process tree, until it is stopped (ctrl-C, SIGTERM).

    Use it on one machine, with SQLite: it is all a small nursery needs. Put a server that speaks TLS in
    front of it before others reach it (docs/operations.md). For PostgreSQL and Redis run web, worker and
    beat apart.

    \b
    Example: dipledger serve --port 8010
    """
    settings = _safe()
    supervise([web_command(host, port, 1), worker_command(settings, 1), beat_command()])


@main.command()
@at_host
@at_port
@click.option("--workers", default=1, show_default=True, help="Processes that answer; about one a core.")
def web(host: str, port: int, workers: int) -> None:
    """Run the web server alone.

    Use it beside 'worker' and 'beat' where the three are apart; as many as you like, on as many machines.

    \b
    Example: dipledger web --host 0.0.0.0 --workers 2
    """
    _safe()
    supervise([web_command(host, port, workers)])


@main.command()
@click.option("--concurrency", default=2, show_default=True, help="How many jobs at once.")
def worker(concurrency: int) -> None:
    """Run a worker alone: it computes release days, sends events, proves at night.

    Use it beside 'web' and 'beat'; as many as you like. What it owes stands in the database: killing it loses
    nothing.

    \b
    Example: dipledger worker --concurrency 2
    """
    supervise([worker_command(_safe(), concurrency)])


@main.command()
def beat() -> None:
    """Run beat alone: the clock that asks every few seconds what is owed.

    Use it beside 'web' and 'worker'; a house has exactly one.

    \b
    Example: dipledger beat
    """
    _settings()
    supervise([beat_command()])


def _begun(home: Path) -> Settings:
    """The settings of a house whose folder, secret and signing key are made where they are missing."""
    home.mkdir(parents=True, exist_ok=True)
    _write_secret(home / SECRET_FILE)
    settings = _settings()
    make_key_file(settings.signing_key_file)
    return settings


def _here() -> Settings:
    return _begun(home_folder())


def _settings() -> Settings:
    try:
        return read_settings()
    except SettingsProblem as problem:
        raise Refused(str(problem), "settings") from problem


def _safe() -> Settings:
    """The settings of a house whose database keeps what it acknowledges, or that starts all the same."""
    settings = _settings()
    try:
        with _database() as database:
            refuse_unsafe(database)
    except UnsafeDatabase as problem:
        if not settings.unsafe_database:
            raise Refused(f"{problem} {ALL_THE_SAME}", "unsafe-database") from problem
        click.echo(f"UNSAFE DATABASE: {problem}", err=True)
    except OperationalError:
        pass  # it may come yet; readiness tells until then
    return settings


@contextmanager
def _database() -> Iterator[Database]:
    found = wiring.open_database(_settings())
    try:
        yield found
    finally:
        found.dispose()


def _heads(session: Session, file: Path) -> tuple[int, list[str]]:
    with told(SigningKeyProblem):
        count, wrong = check_heads(session, file, load(_settings().signing_key_file))
    return count, [f"Line {found.line}: {found.said}." for found in wrong]


def _write_secret(file: Path) -> None:
    if not file.exists():
        file.touch(mode=0o600)
        file.write_text(secrets.token_urlsafe(48) + "\n", "utf-8")


for command in (
    demo,
    verify_file,
    check_command(_database),
    erase_command(_database),
    rebuild_command(_database),
    export_command(_settings, _database),
    import_command(_here, _database),
    db_commands(_settings, _here, _database),
    token_commands(_database),
    user_commands(_settings, _database),
    key_commands(_settings, _database),
    journal_commands(_database, _heads),
    reference_commands(_database),
):
    main.add_command(command)
