"""The command `dipledger`. What starts a server loads nothing of what the others are made of."""

import importlib
from collections.abc import Mapping
from typing import cast

import click
from sqlalchemy.exc import OperationalError

from service.core.command_line import Refused, settings_told
from service.core.db import Database
from service.core.durability import UnsafeDatabase, refuse_unsafe
from service.core.settings import Settings
from service.processes import beat_command, supervise, web_command, worker_command

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
# Module, what makes the command (or is it), and the functions of service.opening that it is given.
OTHERS: Mapping[str, tuple[str, str, tuple[str, ...]]] = {
    "init": ("service.opening", "init", ()),
    "demo": ("service.demo.playing", "demo", ()),
    "verify": ("service.clearance.commands", "verify_file", ()),
    "check": ("service.reports.commands", "check_command", ("database",)),
    "erase": ("service.recalls.commands", "erase_command", ("database",)),
    "rebuild": ("service.reports.commands", "rebuild_command", ("database",)),
    "export": ("service.archive.commands", "export_command", ("settings_told", "database")),
    "import": ("service.archive.commands", "import_command", ("here", "database")),
    "db": ("service.backups.commands", "db_commands", ("settings_told", "here", "database")),
    "token": ("service.accounts.token_commands", "token_commands", ("database",)),
    "user": ("service.accounts.commands", "user_commands", ("settings_told", "database")),
    "keys": ("service.clearance.commands", "key_commands", ("settings_told", "database")),
    "journal": ("service.journal.commands", "journal_commands", ("database", "heads")),
    "reference": ("service.adoption_commands", "reference_commands", ("database",)),
}


class Commands(click.Group):
    """Commands, of which the `OTHERS` are loaded when they are asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The names of all."""
        return sorted({*super().list_commands(ctx), *OTHERS})

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """One command; None when there is no such."""
        if cmd_name in OTHERS and cmd_name not in self.commands:
            module, name, given = OTHERS[cmd_name]
            found = getattr(importlib.import_module(module), name)
            if given:
                opening = importlib.import_module("service.opening")
                found = found(*(getattr(opening, each) for each in given))
            self.add_command(cast(click.Command, found), cmd_name)
        return super().get_command(ctx, cmd_name)


@click.group(cls=Commands, help=HELP)
@click.version_option(package_name="dipledger")
def main() -> None:
    """Read `HELP`."""


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
    settings_told()
    supervise([beat_command()])


def _safe() -> Settings:
    """The settings of a house whose database keeps what it acknowledges, or that starts all the same."""
    settings = settings_told()
    database = Database(settings.database_url)
    try:
        refuse_unsafe(database)
    except UnsafeDatabase as problem:
        if not settings.unsafe_database:
            raise Refused(f"{problem} {ALL_THE_SAME}", "unsafe-database") from problem
        click.echo(f"UNSAFE DATABASE: {problem}", err=True)
    except OperationalError:
        pass  # it may come yet; readiness tells until then
    finally:
        database.dispose()
    return settings
