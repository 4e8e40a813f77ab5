"""What an archive is: its parts, how values are written in it, and when it is refused."""

import base64
import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, date, datetime
from enum import StrEnum
from typing import Any

FORMAT = "dipledger-archive"
VERSION = 2  # 2: with photos
MANIFEST, READ_ME, KEYS = "manifest.json", "README.txt", "keys.json"
# What only the running service needs: who is signed in at this moment, and that its processes live.
LEFT_OUT = frozenset({"alembic_version", "heartbeat", "signed_in", "failed_sign_in"})
SHA256 = re.compile(r"[0-9a-f]{64}")
NAME = re.compile(r"[a-z][a-z0-9_]{0,62}")
PHOTO = re.compile(r"[0-9a-f]{64}\.(jpg|pdf|png)")
LONGEST_LINE = 64 * 1024 * 1024  # of one row, in bytes

READ_ME_TEXT = """\
All data of one nursery, written by Dipledger. Keep it as safe as the database itself: it holds names and
references of customers, and what people sign in with (as hashes).

manifest.json   what is in here: of each table the columns, the number of rows and the SHA-256 of its file;
                the revision of the database; number and hash of the last entry of the journal
tables/*.ndjson one row a line, each a JSON object; a column that is null is left out
photos/*        photos and papers, each named by the SHA-256 of its content
keys.json       the public keys that certificates were signed with (JWK set, RFC 7517)

Read it back into an empty house with: dipledger import FILE
"""


class Unfit(Exception):
    """The archive cannot be read back; the message says why and what to do. `code` names the kind."""

    def __init__(self, code: str, detail: str) -> None:
        super().__init__(detail)
        self.code = code


class Kind(StrEnum):
    """What a column holds, whichever database it is in."""

    TEXT = "text"
    ID = "id"
    NUMBER = "number"
    ANSWER = "answer"  # true or false
    MOMENT = "moment"  # RFC 3339, in UTC
    DAY = "day"
    JSON = "json"
    BYTES = "bytes"  # base64, RFC 4648


@dataclass(frozen=True)
class Part:
    """One table of an archive."""

    name: str
    columns: Mapping[str, str]  # kind by name
    rows: int
    sha256: str

    @property
    def file(self) -> str:
        """Where its rows stand."""
        return file_of(self.name)


@dataclass(frozen=True)
class Manifest:
    """What an archive holds."""

    revision: str  # of the database
    made_at: str
    public_url: str
    entries: int  # of the journal
    head: str  # the hash of the last one
    keys_sha256: str
    tables: tuple[Part, ...]
    photos: tuple[str, ...] = ()  # names of the files: SHA-256 of the content and how it ends
    photos_lost: tuple[str, ...] = ()  # those that were not in the folder any more

    def written(self) -> bytes:
        """As it stands in the archive."""
        body = {"format": FORMAT, "version": VERSION, **asdict(self)}
        return json.dumps(body, indent=2, ensure_ascii=False).encode()


def file_of(table: str) -> str:
    """Where the rows of a table stand in the archive."""
    return f"tables/{table}.ndjson"


def photo_file(name: str) -> str:
    """Where a photo stands in the archive."""
    return f"photos/{name}"


def manifest_of(content: bytes) -> Manifest:
    """A manifest as read; raises Unfit when it is none, or of a version to come."""
    try:
        body = json.loads(content)
        if body.pop("format") != FORMAT:
            raise Unfit("no-archive", "This file is not an archive of Dipledger.")
        if body.pop("version") > VERSION:
            detail = (
                "This archive is newer than this Dipledger. Install the version that wrote it, or a later."
            )
            raise Unfit("newer", detail)
        tables = tuple(Part(**part) for part in body.pop("tables"))
        photos, lost = tuple(body.pop("photos", ())), tuple(body.pop("photos_lost", ()))
        found = Manifest(**body, tables=tables, photos=photos, photos_lost=lost)
    except (ValueError, TypeError, KeyError, AttributeError) as problem:
        raise Unfit("altered", "The manifest of the archive cannot be read.") from problem
    names = [part.name for part in tables]
    told = all(NAME.fullmatch(name) for name in names) and all(SHA256.fullmatch(p.sha256) for p in tables)
    told = told and all(PHOTO.fullmatch(name) for name in (*photos, *lost))
    if not told or len(set(names)) < len(names) or len({*photos, *lost}) < len(photos) + len(lost):
        raise Unfit("altered", "The manifest of the archive names what cannot be.")
    return found


def cell(kind: Kind, value: Any) -> Any:
    """A value of a column as JSON; JSON comes as its text."""
    if kind is Kind.MOMENT:
        return _utc(value).isoformat().replace("+00:00", "Z")
    if kind is Kind.DAY:
        return value.isoformat()
    if kind is Kind.BYTES:
        return base64.b64encode(value).decode()
    return json.loads(value) if kind is Kind.JSON else value


def value(kind: Kind, written: Any) -> Any:
    """The value of a column from its JSON; raises ValueError or TypeError when it cannot be one."""
    if kind is Kind.MOMENT:
        return _utc(datetime.fromisoformat(written))
    if kind is Kind.DAY:
        return date.fromisoformat(written)
    if kind is Kind.BYTES:
        return base64.b64decode(written, validate=True)
    return written


def _utc(moment: datetime) -> datetime:
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
