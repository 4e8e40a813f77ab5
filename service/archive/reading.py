"""Reading an archive back: into an empty database, whole or not at all."""

import hashlib
import json
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from service.archive import rules
from service.archive.photographs import put_photos
from service.archive.rules import Kind, Manifest, Part, Unfit
from service.archive.tables import SEEDS, Shape, keys_that_point, shapes
from service.archive.writing import AT_ONCE, Progress
from service.core.db import Database
from service.journal.queries import check_chain

MOST_OF_A_DOCUMENT = 8 * 1024 * 1024
NOT_EMPTY = (
    "This house is not empty: there is something in {}. An archive goes into a new house: set DIPLEDGER_HOME"
    " to a new folder, or DIPLEDGER_DATABASE_URL to an empty database, and do not run 'dipledger init' there."
)


@contextmanager
def opened(file: Path) -> Iterator[tuple[zipfile.ZipFile, Manifest]]:
    """An archive with its manifest; raises Unfit when it holds anything else than the manifest says."""
    try:
        with zipfile.ZipFile(file) as archive:
            manifest = rules.manifest_of(_document(archive, rules.MANIFEST))
            wanted = {rules.MANIFEST, rules.READ_ME, rules.KEYS, *(part.file for part in manifest.tables)}
            wanted |= {rules.photo_file(name) for name in manifest.photos}
            there = archive.namelist()
            if set(there) != wanted or len(there) > len(wanted):
                raise Unfit("altered", "The archive does not hold just the files that its manifest names.")
            yield archive, manifest
    except (zipfile.BadZipFile, EOFError, zlib.error, NotImplementedError) as problem:
        raise Unfit("altered", f"The archive is damaged: {problem}.") from problem


def published_keys(archive: zipfile.ZipFile, manifest: Manifest) -> dict[str, Any]:
    """The public keys that the certificates in it were signed with, as `clearance.keys.published` gave them.

    Raises Unfit.
    """
    content = _document(archive, rules.KEYS)
    if hashlib.sha256(content).hexdigest() != manifest.keys_sha256:
        raise Unfit("altered", "The keys of the archive are not those that its manifest names.")
    found: dict[str, Any] = json.loads(content)
    return found


def refuse_full(database: Database) -> None:
    """Raise Unfit when the database holds more than a new one does, whatever its revision."""
    with database.reading() as session:
        connection = session.connection()
        for name, shape in shapes(connection).items():
            rows = connection.scalar(sa.select(sa.func.count()).select_from(shape.table)) or 0
            begun = sa.text("SELECT seq FROM journal_head")
            if rows > (name in SEEDS) or (name == "journal_head" and connection.scalar(begun)):
                raise Unfit("not-empty", NOT_EMPTY.format(name))


def load(database: Database, archive: zipfile.ZipFile, manifest: Manifest, progress: Progress) -> int:
    """Put every row of an archive into an empty database of its revision; gives how many.

    One transaction: hashes, counts, keys between tables and the chain of the journal are held before it
    commits. Raises Unfit, and then nothing was kept.
    """
    with database.writer() as session:
        connection = session.connection()
        there = shapes(connection)
        if set(there) != {part.name for part in manifest.tables}:
            raise Unfit("altered", "The archive does not hold the tables of the revision that it names.")
        try:
            with _keys_judged_last(connection):
                for name in reversed(SEEDS):
                    connection.execute(sa.delete(there[name].table))
                for part in manifest.tables:
                    _fill(connection, archive, part, there[part.name], progress)
            _hold_chain(session, manifest)
            put_photos(session, archive, manifest, progress)
            session.commit()
        except sa.exc.DBAPIError as problem:
            detail = f"The rows of the archive do not fit together: {problem.orig}."
            raise Unfit("altered", detail) from problem
    return sum(part.rows for part in manifest.tables)


def _hold_chain(session: Session, manifest: Manifest) -> None:
    found = check_chain(session)
    if found.broken_at is not None:
        raise Unfit("altered", f"The chain of the journal is broken at entry {found.broken_at}.")
    if (found.entries, found.head) != (manifest.entries, manifest.head):
        raise Unfit("altered", "The journal does not end where the manifest says.")


@contextmanager
def _keys_judged_last(connection: sa.Connection) -> Iterator[None]:
    """Foreign keys hold at the end: rows that point to one another come in any order."""
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("PRAGMA defer_foreign_keys=ON")
        yield
        return
    quote = connection.dialect.identifier_preparer.quote
    keys = [
        f"ALTER TABLE {quote(table)} ALTER CONSTRAINT {quote(key)}"
        for table, key in keys_that_point(connection)
    ]
    for key in keys:
        connection.exec_driver_sql(f"{key} DEFERRABLE INITIALLY DEFERRED")
    yield
    connection.exec_driver_sql("SET CONSTRAINTS ALL IMMEDIATE")
    for key in keys:
        connection.exec_driver_sql(f"{key} NOT DEFERRABLE")


def _fill(
    connection: sa.Connection, archive: zipfile.ZipFile, part: Part, shape: Shape, progress: Progress
) -> None:
    digest, done = hashlib.sha256(), 0
    page: list[dict[str, Any]] = []
    with archive.open(part.file) as file:
        for line in _lines(file):
            digest.update(line)
            page.append(_row(line, shape, part))
            done += 1
            if len(page) == AT_ONCE:
                connection.execute(sa.insert(shape.table), page)
                page = []
                progress(part.name, done, part.rows)
    if page:
        connection.execute(sa.insert(shape.table), page)
    progress(part.name, done, part.rows)
    if done != part.rows or digest.hexdigest() != part.sha256:
        raise Unfit("altered", f"The rows of {part.name} are not those that the manifest names.")


def _lines(file: IO[bytes]) -> Iterator[bytes]:
    while line := file.readline(rules.LONGEST_LINE + 1):
        if len(line) > rules.LONGEST_LINE:
            raise Unfit("altered", "A row of the archive is longer than any can be.")
        yield line


def _row(line: bytes, shape: Shape, part: Part) -> dict[str, Any]:
    try:
        said: Mapping[str, Any] = json.loads(line)
        if said.keys() - shape.kinds.keys():
            raise ValueError("an unknown column")
        return {name: _value(kind, said, name) for name, kind in shape.kinds.items()}
    except (ValueError, TypeError, AttributeError) as problem:
        raise Unfit("altered", f"A row of {part.name} cannot be read: {problem}.") from problem


def _value(kind: Kind, said: Mapping[str, Any], name: str) -> Any:
    if name not in said:
        return None
    found = rules.value(kind, said[name])
    return sa.JSON.NULL if kind is Kind.JSON and found is None else found


def _document(archive: zipfile.ZipFile, name: str) -> bytes:
    try:
        with archive.open(name) as file:
            content = file.read(MOST_OF_A_DOCUMENT + 1)
    except KeyError as problem:
        raise Unfit("no-archive", "This file is not an archive of Dipledger.") from problem
    if len(content) > MOST_OF_A_DOCUMENT:
        raise Unfit("altered", f"{name} of the archive is larger than any can be.")
    return content
