"""What the command line does with archives."""

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import click
from alembic.script import ScriptDirectory
from alembic.util import CommandError

from service.archive import reading, writing
from service.archive.rules import Manifest, Unfit
from service.archive.writing import Origin
from service.clearance import keys
from service.clearance.signing import make_key_file
from service.core import migrations
from service.core.clock import utc_now
from service.core.command_line import (
    NOT_EMPTY,
    WRONG,
    Found,
    Opened,
    Refused,
    answer,
    as_json_option,
    bar,
    told,
)
from service.core.db import snapshot
from service.core.settings import Settings


def export_command(settings: Found, opened: Opened) -> click.Command:
    """`dipledger export`; `settings` and `opened` are called when it runs."""

    @click.command("export")
    @click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
    @as_json_option
    def export(file: Path, as_json: bool) -> None:
        """Write all data of the house into one new FILE that can be read anywhere.

        A zip of one JSON object a line for each table, with a manifest and hashes (docs/files.md). People may
        go on working meanwhile: it holds the house as it was at one moment. Keep it as safe as the database.
        The secret of the house and the private signing key are not in it: copy them by hand.

        Use it to move to another kind of database or away from Dipledger; for each night there is 'db
        backup'.

        \b
        Example: dipledger export house.zip
        Exit codes: 0 written, 1 nothing was written.
        """
        found = settings()
        make_key_file(found.signing_key_file)  # one that is there stays
        origin = Origin(found.public_url, keys.published(found.signing_key_file), utc_now())
        with (
            told(OSError),
            opened() as database,
            snapshot(database) as session,
            bar(quiet=as_json) as tell,
        ):
            manifest = writing.write(session, file, origin, tell)
        _told(file, manifest, "is written", as_json=as_json)

    return export


def import_command(begun: Found, opened: Opened) -> click.Command:
    """`dipledger import`; `begun` makes the folder, secret and key of a new house, or finds them."""

    @click.command("import")
    @click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
    @as_json_option
    def import_(file: Path, as_json: bool) -> None:
        """Read an archive that `dipledger export` wrote into a new, empty house.

        All of it or nothing: hashes, counts and the chain of the journal are held before anything is kept.

        \b
        Example: DIPLEDGER_HOME=/srv/new dipledger import house.zip
        Exit codes: 0 done; 1 the archive is altered, damaged or newer; 3 the house is not empty.
        """
        with _unfit(), reading.opened(file) as (archive, manifest):
            _refuse_newer(manifest)
            published = reading.published_keys(archive, manifest)
            found = begun()
            _prepared(found, opened, manifest)
            with opened() as database, bar(quiet=as_json) as progress:
                reading.load(database, archive, manifest, progress)
            migrations.upgrade(found.database_url)
            keys.take_over(found.signing_key_file, published)
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
def _unfit() -> Iterator[None]:
    try:
        yield
    except Unfit as problem:
        code = NOT_EMPTY if problem.code == "not-empty" else WRONG
        raise Refused(str(problem), problem.code, code) from problem


def _told(file: Path, manifest: Manifest, what: str, *, as_json: bool) -> None:
    rows = sum(part.rows for part in manifest.tables)
    said: dict[str, Any] = {
        "file": str(file),
        "revision": manifest.revision,
        "made_at": manifest.made_at,
        "rows": rows,
        "tables": {part.name: part.rows for part in manifest.tables},
        "photos": len(manifest.photos),
        "photos_lost": list(manifest.photos_lost),
        "journal": {"entries": manifest.entries, "head": manifest.head},
    }
    photos = f", {len(manifest.photos)} photos" if manifest.photos else ""
    lost = "".join(f"Lost before this was written: the photo {name}.\n" for name in manifest.photos_lost)
    text = (
        f"{file} {what}: {rows} rows of {len(manifest.tables)} tables{photos}.\n{lost}"
        f"The journal has {manifest.entries} entries. Head {manifest.head}"
    )
    answer(said, text, as_json=as_json)
