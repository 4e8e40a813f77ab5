"""Writing the archive of a house: one snapshot, row by row, never more than a page of it in memory."""

import hashlib
import json
import zipfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.archive import rules
from service.archive.rules import Kind, Manifest, Part
from service.archive.tables import Shape, shapes
from service.core.new_file import new_file
from service.photos.actions import folder_of
from service.photos.models import Photo
from service.photos.rules import ENDINGS

AT_ONCE = 500
Progress = Callable[[str, int, int], None]  # the table, rows done, rows in all


@dataclass(frozen=True)
class Origin:
    """The house that an archive is of: its address and the public keys of its certificates; and when."""

    public_url: str
    keys: Mapping[str, Any]
    now: datetime


def write(session: Session, file: Path, origin: Origin, progress: Progress) -> Manifest:
    """Write all that `session` (a snapshot) sees into a new file; gives what stands in it.

    The file is complete or not there. Raises FileExistsError.
    """
    with new_file(file) as raw, zipfile.ZipFile(raw, "w", zipfile.ZIP_DEFLATED) as archive:
        return _filled(session, archive, origin, progress)


def _filled(session: Session, archive: zipfile.ZipFile, origin: Origin, progress: Progress) -> Manifest:
    connection = session.connection()
    revision = connection.scalar(sa.text("SELECT version_num FROM alembic_version"))
    head = connection.execute(sa.text("SELECT seq, hash FROM journal_head WHERE id = 1")).one()
    archive.writestr(rules.READ_ME, rules.READ_ME_TEXT)
    published = json.dumps(origin.keys, indent=2).encode()
    archive.writestr(rules.KEYS, published)
    parts = tuple(_part(connection, archive, shape, progress) for shape in shapes(connection).values())
    has_photos = any(part.name == "photo" for part in parts)  # an older revision has none
    photos, lost = _photos(session, archive, progress) if has_photos else ((), ())
    manifest = Manifest(
        revision=str(revision),
        made_at=origin.now.isoformat().replace("+00:00", "Z"),
        public_url=origin.public_url,
        entries=head.seq,
        head=head.hash,
        keys_sha256=hashlib.sha256(published).hexdigest(),
        tables=parts,
        photos=photos,
        photos_lost=lost,
    )
    archive.writestr(rules.MANIFEST, manifest.written())
    return manifest


def _photos(
    session: Session, archive: zipfile.ZipFile, progress: Progress
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Put every photo in as it is, one at a time; gives the names of those, and of those that are lost."""
    folder = folder_of(session)
    kept: list[str] = []
    lost: list[str] = []
    rows = session.execute(select(Photo.sha256, Photo.media_type).order_by(Photo.id)).all()
    for sha256, media_type in rows:
        name, content = f"{sha256}.{ENDINGS[media_type]}", folder.get(sha256, media_type)
        (lost if content is None else kept).append(name)
        if content is not None:
            archive.writestr(rules.photo_file(name), content, zipfile.ZIP_STORED)  # they are packed already
        progress("photos", len(kept) + len(lost), len(rows))
    return tuple(kept), tuple(lost)


def _part(connection: sa.Connection, archive: zipfile.ZipFile, shape: Shape, progress: Progress) -> Part:
    name = str(shape.table.name)  # SQLAlchemy's own remembers its quotes
    of_all = connection.scalar(sa.select(sa.func.count()).select_from(shape.table)) or 0
    digest, done = hashlib.sha256(), 0
    with archive.open(rules.file_of(name), "w", force_zip64=True) as file:
        for line in _lines(connection, shape):
            digest.update(line)
            file.write(line)
            done += 1
            if done % AT_ONCE == 0:
                progress(name, done, of_all)
    progress(name, done, of_all)
    kinds = {column: kind.value for column, kind in shape.kinds.items()}
    return Part(name, kinds, done, digest.hexdigest())


def _lines(connection: sa.Connection, shape: Shape) -> Iterator[bytes]:
    # JSON comes as its text, so that no null of it is taken for one of the database.
    columns = [
        sa.cast(column, sa.Text).label(column.name) if shape.kinds[column.name] is Kind.JSON else column
        for column in shape.table.columns
    ]
    statement = sa.select(*columns).order_by(*shape.table.primary_key.columns)
    found = connection.execution_options(yield_per=AT_ONCE).execute(statement)
    names = list(shape.kinds)
    for row in found:
        said = {
            name: rules.cell(shape.kinds[name], value)
            for name, value in zip(names, row, strict=True)
            if value is not None
        }
        yield json.dumps(said, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"
