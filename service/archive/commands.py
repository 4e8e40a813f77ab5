"""What the command line does with archives."""

import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from pathlib import Path
from typing import Any

import click
import orjson
from alembic.script import ScriptDirectory
from alembic.util import CommandError
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

from service.archive import reading, writing
from service.archive.rules import Manifest, Unfit
from service.archive.writing import Origin
from service.clearance import keys
from service.clearance.signing import make_key_file
from service.core import migrations
from service.core.clock import utc_now
from service.core.db import Database, snapshot
from service.core.settings import Settings

Opened = Callable[[], AbstractContextManager[Database]]
NOT_GOOD, NOT_EMPTY = 1, 3
as_json_option = click.option("--json", "as_json", is_flag=True, help="One JSON document instead of lines.")


def export_command(settings: Callable[[], Settings], opened: Opened) -> click.Command:
    """`dipledger export`; `settings` and `opened` are called when it runs."""

    @click.command("export")
    @click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
    @as_json_option
    def export(file: Path, as_json: bool) -> None:  # noqa: FBT001  # how click hands a flag over
        """Write all data of the house into one new FILE that can be read anywhere.

        A zip of one JSON object a line for each table, with a manifest and hashes (docs/files.md). People may
        go on working meanwhile: it holds the house as it was at one moment. Keep it as safe as the database.
        The secret of the house and the private signing key are not in it: copy them by hand.
        """
        found = settings()
        make_key_file(found.signing_key_file)  # one that is there stays
        origin = Origin(found.public_url, keys.published(found.signing_key_file), utc_now())
        try:
            with opened() as database, snapshot(database.engine) as session, _bar(quiet=as_json) as progress:
                manifest = writing.write(session, file, origin, progress)
        except OSError as problem:
            raise click.ClickException(str(problem)) from problem
        _told(file, manifest, "is written", as_json=as_json)

    return export


def import_command(begun: Callable[[], Settings], opened: Opened) -> click.Command:
    """`dipledger import`; `begun` makes the folder, secret and key of a new house, or finds them."""

    @click.command("import")
    @click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
    @as_json_option
    def import_(file: Path, as_json: bool) -> None:  # noqa: FBT001  # as above
        """Read an archive that `dipledger export` wrote into a new, empty house.

        All of it or nothing: hashes, counts and the chain of the journal are held before anything is kept.
        Exit code 1: the archive is altered, damaged or newer than this program; 3: the house is not empty.
        """
        try:
            with reading.opened(file) as (archive, manifest):
                _refuse_newer(manifest)
                published = reading.published_keys(archive, manifest)
                found = begun()
                _prepared(found, opened, manifest)
                with opened() as database, _bar(quiet=as_json) as progress:
                    reading.load(database, archive, manifest, progress)
            migrations.upgrade(found.database_url)
            keys.take_over(found.signing_key_file, published)
        except Unfit as problem:
            if as_json:
                click.echo(orjson.dumps({"code": problem.code, "detail": str(problem)}))
            else:
                click.echo(f"Error: {problem}", err=True)
            sys.exit(NOT_EMPTY if problem.code == "not-empty" else NOT_GOOD)
        _told(file, manifest, "is read back; next: dipledger check", as_json=as_json)

    return import_


def _refuse_newer(manifest: Manifest) -> None:
    try:
        ScriptDirectory.from_config(migrations.config()).get_revision(manifest.revision)
    except CommandError as problem:
        detail = "This archive is newer than this Dipledger. Install the version that wrote it, or a later."
        raise Unfit("newer", detail) from problem


def _prepared(found: Settings, opened: Opened, manifest: Manifest) -> None:
    """The empty database at the revision of the archive; raises Unfit when it is not empty."""
    with opened() as database:
        reading.refuse_full(database)
    for move in (migrations.upgrade, migrations.downgrade):
        with suppress(CommandError):  # it is on the other side of that revision, or there
            move(found.database_url, manifest.revision)


@contextmanager
def _bar(*, quiet: bool) -> Iterator[writing.Progress]:
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    console = Console(stderr=True)
    with Progress(*columns, console=console, disable=quiet or not console.is_terminal) as shown:
        task = shown.add_task("")

        def tell(table: str, done: int, of_all: int) -> None:
            shown.update(task, description=table, completed=done, total=of_all)

        yield tell


def _told(file: Path, manifest: Manifest, what: str, *, as_json: bool) -> None:
    rows = sum(part.rows for part in manifest.tables)
    if as_json:
        said: dict[str, Any] = {
            "file": str(file),
            "revision": manifest.revision,
            "made_at": manifest.made_at,
            "rows": rows,
            "tables": {part.name: part.rows for part in manifest.tables},
            "journal": {"entries": manifest.entries, "head": manifest.head},
        }
        click.echo(orjson.dumps(said, option=orjson.OPT_INDENT_2))
        return
    click.echo(f"{file} {what}: {rows} rows of {len(manifest.tables)} tables.")
    click.echo(f"The journal has {manifest.entries} entries. Head {manifest.head}")
