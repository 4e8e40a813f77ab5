"""The file of signing keys: a new key before the old, an old one taken out, and what it holds.

A key that signs no more stays in the file as its public half, so that what it signed is still checked;
one that was withdrawn is gone, and what it signed holds no more.
"""

import fcntl
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import orjson

from service.clearance.signing import SigningKeyProblem, load, new_key, public_jwks
from service.core.ids import new_id


@dataclass(frozen=True)
class KeyState:
    """One key by its thumbprint (RFC 7638): it signs, is published or withdrawn, and since when if known."""

    kid: str
    state: str
    since: str | None


def listed(path: Path) -> list[KeyState]:
    """Every key, the signing one first; raises SigningKeyProblem."""
    kids = [key.thumbprint() for key in load(path)]
    there = [KeyState(kid, "published" if n else "signs", None) for n, kid in enumerate(kids)]
    gone = [KeyState(entry["kid"], "withdrawn", entry["at"]) for entry in _withdrawn(path)]
    return [*there, *gone]


def rotate(path: Path) -> str:
    """Put a new key before the others and give its name; the former private halves are forgotten.

    Raises SigningKeyProblem.
    """
    with _changing(path):
        former, made = public_jwks(load(path))["keys"], new_key()
        _write(path, [made, *former], _withdrawn(path))
    return str(made["kid"])


def published(path: Path) -> dict[str, Any]:
    """The public keys and what was withdrawn, for an archive; raises SigningKeyProblem."""
    return {"keys": public_jwks(load(path))["keys"], "withdrawn": _withdrawn(path)}


def take_over(path: Path, other: Mapping[str, Any]) -> None:
    """Publish beside the own keys what `published` gave of another house; raises SigningKeyProblem."""
    with _changing(path):
        mine = load(path)
        known = {key.thumbprint() for key in mine}
        own = [mine[0].as_dict(private=True), *public_jwks(mine[1:])["keys"]]
        gone = {entry["kid"]: entry for entry in (*other["withdrawn"], *_withdrawn(path))}
        _write(path, [*own, *(key for key in other["keys"] if key["kid"] not in known)], list(gone.values()))


def withdraw(path: Path, kid: str, at: datetime) -> bool:
    """Take a key out that signs no more; False when it is not in the file. Raises SigningKeyProblem."""
    with _changing(path):
        keys = load(path)
        if kid not in [key.thumbprint() for key in keys]:
            return False
        if keys[0].thumbprint() == kid:
            raise SigningKeyProblem(f"{kid} is the key that signs: put a new one before it first.")
        signs = keys[0].as_dict(private=True)
        others = public_jwks(key for key in keys[1:] if key.thumbprint() != kid)["keys"]
        _write(path, [signs, *others], [*_withdrawn(path), {"kid": kid, "at": at.isoformat()}])
    return True


def _withdrawn(path: Path) -> list[dict[str, Any]]:
    document = orjson.loads(path.read_bytes())
    return list(document.get("withdrawn", []))


@contextmanager
def _changing(path: Path) -> Iterator[None]:
    with path.with_name(f"{path.name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def _write(path: Path, keys: list[dict[str, Any]], withdrawn: list[dict[str, Any]]) -> None:
    written = path.with_name(f"{path.name}.{new_id()}")
    descriptor = os.open(written, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "wb") as file:
        file.write(orjson.dumps({"keys": keys, "withdrawn": withdrawn}))
        file.flush()
        os.fsync(descriptor)
    written.replace(path)
