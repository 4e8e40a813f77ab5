"""The file of a backup: a zip of a manifest and the database, written whole and read with suspicion."""

import hashlib
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from joserfc.jwk import OKPKey

from service.backups import envelope, rules
from service.backups.rules import Manifest, Unfit
from service.core.command_line import Tell
from service.core.new_file import new_file

AT_ONCE = 1024 * 1024
MOST_OF_A_MANIFEST = 64 * 1024
DAMAGED = "The backup is damaged or was cut off: {}. Take another one."


def write(file: Path, content: Path, manifest: Manifest, key: OKPKey | None, tell: Tell) -> None:
    """Put a database and its manifest into a new file, encrypted for a key if there is one.

    Raises FileExistsError.
    """
    with (
        new_file(file) as raw,
        envelope.around(raw, key) as whole,
        zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED, compresslevel=3) as made,
    ):
        made.writestr(rules.MANIFEST, manifest.written())
        with (
            made.open(rules.CONTENT[manifest.kind], "w", force_zip64=True) as target,
            content.open("rb") as source,
        ):
            done = 0
            while piece := source.read(AT_ONCE):
                target.write(piece)
                done += len(piece)
                tell("packing", done, manifest.size)


def digest(file: Path) -> str:
    """The SHA-256 of a file."""
    with file.open("rb") as opened_file:
        return hashlib.file_digest(opened_file, "sha256").hexdigest()


def manifest_in(file: Path) -> Manifest:
    """What the backup says of itself; raises Unfit."""
    with _opened(file) as (_, manifest):
        return manifest


def unpack(file: Path, target: IO[bytes], tell: Tell) -> Manifest:
    """Write the database of a backup into `target`; raises Unfit when it is not the one that was put in."""
    with _opened(file) as (archive, manifest), archive.open(rules.CONTENT[manifest.kind]) as source:
        seen, done = hashlib.sha256(), 0
        while piece := source.read(AT_ONCE):
            done += len(piece)
            if done > manifest.size:
                break
            seen.update(piece)
            target.write(piece)
            tell("unpacking", done, manifest.size)
    if done != manifest.size or seen.hexdigest() != manifest.sha256:
        raise Unfit("damaged", "The database in the backup is not the one that its manifest names.")
    return manifest


@contextmanager
def _opened(file: Path) -> Iterator[tuple[zipfile.ZipFile, Manifest]]:
    try:
        with zipfile.ZipFile(file) as archive:
            if archive.namelist()[:1] != [rules.MANIFEST]:
                raise Unfit("no-backup", rules.NO_BACKUP)
            with archive.open(rules.MANIFEST) as source:
                manifest = rules.manifest_of(source.read(MOST_OF_A_MANIFEST))
            if archive.namelist() != [rules.MANIFEST, rules.CONTENT[manifest.kind]]:
                raise Unfit("damaged", "The backup does not hold just a manifest and its database.")
            yield archive, manifest
    except (zipfile.BadZipFile, EOFError, zlib.error, NotImplementedError) as problem:
        raise Unfit("damaged", DAMAGED.format(problem)) from problem
