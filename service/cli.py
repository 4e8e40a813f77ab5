"""The command `dipledger`."""

import secrets
import sys
from pathlib import Path

import click
import orjson

from service import wiring
from service.accounts.actions import create_token
from service.accounts.rules import DEFAULT_DAYS, LONGEST_DAYS, Role
from service.adoption import adopt_reference
from service.clearance.signing import make_key_file
from service.core import migrations
from service.core.clock import utc_now
from service.core.db import Database
from service.core.settings import SECRET_FILE, Settings, SettingsProblem, read_settings
from service.journal.acts import Act
from service.journal.queries import check_chain
from service.processes import beat_command, serve, web_command, worker_command


@click.group()
@click.version_option(package_name="dipledger")
def main() -> None:
    """Dipledger: plant lots from shipment to clearance statement."""


@main.command()
@click.option("--home", type=click.Path(path_type=Path), default="var/dipledger", envvar="DIPLEDGER_HOME")
def init(home: Path) -> None:
    """Make the house: its folder, secret and signing key, database and reference data."""
    home.mkdir(parents=True, exist_ok=True)
    _write_secret(home / SECRET_FILE)
    settings = _settings()
    make_key_file(settings.signing_key_file)
    migrations.upgrade(settings.database_url)
    click.echo(_adopt(settings))
    click.echo(f"Ready in {home}. Next: dipledger token create --role owner --name NAME; dipledger serve")


@main.command()
def migrate() -> None:
    """Bring the database to this version and adopt new reference data."""
    settings = _settings()
    make_key_file(settings.signing_key_file)
    migrations.upgrade(settings.database_url)
    click.echo(_adopt(settings))


@main.command()
def reference() -> None:
    """Adopt what is new in the shipped reference data."""
    click.echo(_adopt(_settings()))


@main.group()
def token() -> None:
    """Tokens: who may come in."""


@token.command("create")
@click.option("--name", required=True, help="Whose token it is.")
@click.option("--role", required=True, type=click.Choice([role.value for role in Role]))
@click.option("--days", default=DEFAULT_DAYS, type=click.IntRange(1, LONGEST_DAYS), show_default=True)
def token_create(name: str, role: str, days: int) -> None:
    """Make a token and print its secret, once."""
    now = utc_now()
    with _database().writing() as session:
        _, secret = create_token(
            session, Act("command line", now, now), name=name, role=Role(role), days=days
        )
    click.echo(secret)


@main.group()
def journal() -> None:
    """The journal: what happened, when, by whom."""


@journal.command("check")
def journal_check() -> None:
    """Prove that nobody altered the journal."""
    with _database().reading() as session:
        found = check_chain(session)
    if found.broken_at is not None:
        raise click.ClickException(f"The chain is broken at entry {found.broken_at}.")
    click.echo(f"{found.entries} entries, intact. Head {found.head}")


@main.command("serve")
@click.option("--host", default="127.0.0.1", show_default=True)
@click.option("--port", default=8000, show_default=True)
def serve_all(host: str, port: int) -> None:
    """Run web, worker and beat as one process tree (the embedded default)."""
    settings = _settings()
    sys.exit(serve([web_command(host, port, 1), worker_command(settings, 1), beat_command()]))


@main.command()
@click.option("--host", default="127.0.0.1", show_default=True)
@click.option("--port", default=8000, show_default=True)
@click.option("--workers", default=1, show_default=True)
def web(host: str, port: int, workers: int) -> None:
    """Run the web server alone."""
    _settings()
    sys.exit(serve([web_command(host, port, workers)]))


@main.command()
@click.option("--concurrency", default=2, show_default=True)
def worker(concurrency: int) -> None:
    """Run a worker alone."""
    sys.exit(serve([worker_command(_settings(), concurrency)]))


@main.command()
def beat() -> None:
    """Run beat alone; a house has exactly one."""
    _settings()
    sys.exit(serve([beat_command()]))


def _settings() -> Settings:
    try:
        return read_settings()
    except SettingsProblem as problem:
        raise click.ClickException(str(problem)) from problem


def _database() -> Database:
    return wiring.open_database(_settings())


def _adopt(settings: Settings) -> str:
    now = utc_now()
    with wiring.open_database(settings).writing() as session:
        adopted = adopt_reference(session, Act("command line", now, now))
    return "Adopted: " + orjson.dumps(adopted).decode()


def _write_secret(file: Path) -> None:
    if not file.exists():
        file.touch(mode=0o600)
        file.write_text(secrets.token_urlsafe(48) + "\n", "utf-8")
