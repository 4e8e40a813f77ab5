"""What a backup is, and when it is refused."""

import json
import re
from collections.abc import Collection
from dataclasses import asdict, dataclass

FORMAT = "dipledger-backup"
VERSION = 1
MANIFEST = "manifest.json"
CONTENT = {"sqlite": "database.sqlite3", "postgresql": "database.pgdump"}
ENVELOPE, ENVELOPE_VERSION = "dipledger-backup-encrypted", 1
SHA256 = re.compile(r"[0-9a-f]{64}")
NO_BACKUP = "This file is not a backup of Dipledger."
NEWER = "This backup is newer than this Dipledger. Install the version that wrote it, or a later."
OLDER = (
    "This backup is of an older Dipledger (its database is at {was}, this version wants {wanted}). Add "
    "--upgrade to bring it to this version once it is back, or install the version that wrote it."
)


class Unfit(Exception):
    """The backup cannot be used; the message says why and what to do. `code` names the kind."""

    def __init__(self, code: str, detail: str) -> None:
        super().__init__(detail)
        self.code = code


@dataclass(frozen=True)
class Manifest:
    """What a backup holds: `kind` of database, its `revision`, where its journal ends, and its content."""

    kind: str
    revision: str
    made_at: str
    program: str  # the version of Dipledger that wrote it
    entries: int  # of the journal
    head: str  # the hash of the last one
    size: int  # of the content, in bytes
    sha256: str

    def written(self) -> bytes:
        """As it stands in the backup."""
        body = {"format": FORMAT, "version": VERSION, **asdict(self)}
        return json.dumps(body, indent=2, ensure_ascii=False).encode()


def manifest_of(content: bytes) -> Manifest:
    """A manifest as read; raises Unfit when it is none, or of a version to come."""
    try:
        body = json.loads(content)
        if body.pop("format") != FORMAT:
            raise Unfit("no-backup", NO_BACKUP)
        if body.pop("version") > VERSION:
            raise Unfit("newer", NEWER)
        body.pop("sealed", None)  # of versions that encrypted nothing
        found = Manifest(**body)
    except (ValueError, TypeError, KeyError, AttributeError) as problem:
        raise Unfit("damaged", "The manifest of the backup cannot be read.") from problem
    whole = SHA256.fullmatch(str(found.sha256)) and isinstance(found.size, int) and found.kind in CONTENT
    if not whole:
        raise Unfit("damaged", "The manifest of the backup names what cannot be.")
    return found


def envelope_line(key: str) -> bytes:
    """The first line of an encrypted backup, which names the key that opens it."""
    body = {"format": ENVELOPE, "version": ENVELOPE_VERSION, "key": key}
    return json.dumps(body).encode() + b"\n"


def key_in(line: bytes) -> str:
    """The name of the key in the first line of an encrypted backup; raises Unfit when it has none."""
    try:
        body = json.loads(line)
        if body["format"] != ENVELOPE:
            raise Unfit("no-backup", NO_BACKUP)
        version, key = int(body["version"]), str(body["key"])
    except (ValueError, TypeError, KeyError) as problem:
        raise Unfit("damaged", "The first line of the backup cannot be read.") from problem
    if version > ENVELOPE_VERSION:
        raise Unfit("newer", NEWER)
    return key


def refuse_misfit(manifest: Manifest, kind: str) -> None:
    """Raise Unfit when the backup is of another kind of database."""
    if manifest.kind != kind:
        detail = (
            f"This backup is of a database of {manifest.kind}, and the house is on {kind}. Set "
            "DIPLEDGER_DATABASE_URL to one of its kind; from one kind to the other goes 'dipledger export'."
        )
        raise Unfit("other-kind", detail)


def refuse_revision(manifest: Manifest, known: Collection[str], wanted: str, *, upgrade: bool) -> None:
    """Raise Unfit when the revision is unknown here, or older and nobody said that it may be upgraded."""
    if manifest.revision not in known:
        raise Unfit("newer", NEWER)
    if manifest.revision != wanted and not upgrade:
        raise Unfit("older", OLDER.format(was=manifest.revision, wanted=wanted))
