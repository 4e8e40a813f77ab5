"""The command `dipledger`."""

import secrets
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path

import click
import orjson

from service import wiring
from service.accounts.actions import create_token
from service.accounts.commands import user_commands
from service.accounts.people_queries import person_by_name
from service.accounts.rules import DEFAULT_DAYS, LONGEST_DAYS, Role
from service.adoption import adopt_reference
from service.archive.commands import export_command, import_command
from service.clearance.commands import key_commands, verify_file
from service.clearance.signing import make_key_file
from service.clearance.standing import look_again
from service.core import migrations
from service.core.clock import utc_now
from service.core.db import Database, snapshot
from service.core.settings import SECRET_FILE, Settings, SettingsProblem, home_folder, read_settings
from service.journal.actions import record
from service.journal.acts import Act
from service.journal.queries import check_chain
from service.processes import beat_command, serve, web_command, worker_command
from service.quarantine.actions import every_key, lots_at, project_tub
from service.reports import actions as reports
from service.reports.proofs import Proof, prove
from service.reports.queries import everything


@click.group()
@click.version_option(package_name="dipledger")
def main() -> None:
    """Dipledger: plant lots from shipment to clearance statement."""


main.add_command(verify_file)


@main.command()
@click.option("--home", type=click.Path(path_type=Path), default="var/dipledger", envvar="DIPLEDGER_HOME")
def init(home: Path) -> None:
    """Make the house: its folder, secret and signing key, database and reference data."""
    settings = _begun(home)
    migrations.upgrade(settings.database_url)
    click.echo(_adopt())
    click.echo(f"Ready in {home}. Next: dipledger user add --role owner --name NAME; dipledger serve")


@main.command()
def migrate() -> None:
    """Bring the database to this version and adopt new reference data."""
    settings = _settings()
    make_key_file(settings.signing_key_file)
    migrations.upgrade(settings.database_url)
    click.echo(_adopt())


@main.command()
def reference() -> None:
    """Adopt what is new in the shipped reference data."""
    click.echo(_adopt())


@main.group()
def token() -> None:
    """Tokens: who may come in."""


@token.command("create")
@click.option("--name", required=True, help="Whose token it is.")
@click.option("--role", required=True, type=click.Choice([role.value for role in Role]))
@click.option("--days", default=DEFAULT_DAYS, type=click.IntRange(1, LONGEST_DAYS), show_default=True)
@click.option("--person", help="The person it is for, as he signs in; left out for a program.")
def token_create(name: str, role: str, days: int, person: str | None) -> None:
    """Make a token and print its secret, once."""
    now = utc_now()
    with _database() as database, database.writing() as session:
        found = None if person is None else person_by_name(session, person)
        if person is not None and found is None:
            raise click.ClickException(f"There is nobody called {person}.")
        act, whose = Act("command line", now, now), None if found is None else found.id
        _, secret = create_token(session, act, name=name, role=Role(role), days=days, person_id=whose)
    click.echo(secret)


@main.group()
def journal() -> None:
    """The journal: what happened, when, by whom."""


@journal.command("check")
def journal_check() -> None:
    """Prove that nobody altered the journal."""
    with _database() as database, database.reading() as session:
        found = check_chain(session)
    if found.broken_at is not None:
        raise click.ClickException(f"The chain is broken at entry {found.broken_at}.")
    click.echo(f"{found.entries} entries, intact. Head {found.head}")


@main.command()
@click.option("--json", "as_json", is_flag=True, help="One JSON document instead of lines.")
def check(as_json: bool) -> None:  # noqa: FBT001  # how click hands a flag over
    """Prove balances, rollup, projections and certificates; exit code 1 when a proof fails."""
    now = utc_now()
    with _database() as database, snapshot(database.engine) as session:
        proofs = prove(session, now)
    held = not any(proof.wrong for proof in proofs)
    if as_json:
        found = {"held": held, "checked_at": now, "proofs": [asdict(proof) for proof in proofs]}
        click.echo(orjson.dumps(found, option=orjson.OPT_INDENT_2))
    else:
        for proof in proofs:
            click.echo(f"{'fails' if proof.wrong else 'holds'}  {proof.name}: {_count(proof)}. {proof.says}")
            for which in proof.wrong:
                click.echo(f"       wrong: {which}")
    sys.exit(0 if held else 1)


def _count(proof: Proof) -> str:
    return f"{proof.checked} checked, {len(proof.wrong)} wrong"


@main.command()
def rebuild() -> None:
    """Compute the rollup of consumption, every projection, and how long lots are good, from the facts."""
    now = utc_now()
    with _database() as database:
        with database.reading() as session:
            months, keys = list(everything(session).months()), every_key(session)
        rows = 0
        for month in months:  # one by one, so that nobody who writes waits long
            with database.writing() as session:
                rows += reports.rebuild(session, month)
        for key in keys:
            with database.writing() as session:
                project_tub(session, {"key": key}, now)
            with database.writing() as session:
                look_again(session, lots_at(session, key), now)
        with database.writing() as session:
            record(session, Act("command line", now, now), "house.rebuilt", [], after={"rollup_rows": rows})
    click.echo(f"{rows} rows of consumption and the lots of {len(keys)} tubs computed anew.")


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


def _begun(home: Path) -> Settings:
    """The settings of a house whose folder, secret and signing key are made where they are missing."""
    home.mkdir(parents=True, exist_ok=True)
    _write_secret(home / SECRET_FILE)
    settings = _settings()
    make_key_file(settings.signing_key_file)
    return settings


def _settings() -> Settings:
    try:
        return read_settings()
    except SettingsProblem as problem:
        raise click.ClickException(str(problem)) from problem


@contextmanager
def _database() -> Iterator[Database]:
    found = wiring.open_database(_settings())
    try:
        yield found
    finally:
        found.dispose()


def _adopt() -> str:
    now = utc_now()
    with _database() as database, database.writing() as session:
        adopted = adopt_reference(session, Act("command line", now, now))
    return "Adopted: " + orjson.dumps(adopted).decode()


def _write_secret(file: Path) -> None:
    if not file.exists():
        file.touch(mode=0o600)
        file.write_text(secrets.token_urlsafe(48) + "\n", "utf-8")


main.add_command(export_command(_settings, _database))
main.add_command(import_command(lambda: _begun(home_folder()), _database))
main.add_command(user_commands(_settings, _database))
main.add_command(key_commands(_settings, _database))
