"""Signing statements: JWS with Ed25519 (RFC 7515, 8037, 9864); a key's name is its RFC 7638 thumbprint."""

import os
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import orjson
from joserfc import jws
from joserfc.errors import JoseError
from joserfc.jwk import OKPKey

from service.core.ids import new_id

ALGORITHM = "Ed25519"
TYPE = "snail-clearance+jwt"
SIGNER = "signer"  # where a session keeps its Signer


class SigningKeyProblem(ValueError):
    """The key file holds no Ed25519 key of ours; the message says what is wrong."""


class Signer:
    """Signs with the first key of one file, which is read (or made) at the first use and when it has changed.

    The file holds a key, or a key set whose first key signs and whose others are only published still.
    """

    def __init__(self, path: Path, public_url: str) -> None:
        """Nothing is read yet; `public_url` is where the public check pages are."""
        self._path = path
        self._keys: list[OKPKey] = []
        self._read: tuple[int, int, int] | None = None
        self.public_url = public_url

    @property
    def keys(self) -> list[OKPKey]:
        """The keys, the signing one first; raises SigningKeyProblem."""
        if self._read is None:
            make_key_file(self._path)
        there = _stamp(self._path)  # before reading: a file that changes meanwhile is read again
        if there != self._read:
            self._keys, self._read = load(self._path), there
        return self._keys

    def sign(self, claims: Mapping[str, Any]) -> str:
        """The signed statement in compact form."""
        return sign(claims, self.keys[0])

    def check_url(self, serial: str) -> str:
        """The address at which anybody can check a certificate."""
        return f"{self.public_url}/c/{serial}"


def new_key() -> dict[str, Any]:
    """A new private key as JWK."""
    key = OKPKey.generate_key("Ed25519")
    return {**key.as_dict(private=True), "kid": key.thumbprint(), "alg": ALGORITHM, "use": "sig"}


def make_key_file(path: Path) -> None:
    """Write a new key that only its owner can read; one that is there stays."""
    path.parent.mkdir(parents=True, exist_ok=True)
    made = path.with_name(f"{path.name}.{new_id()}")
    made.touch(mode=0o600)
    made.write_bytes(orjson.dumps(new_key()))
    try:
        os.link(made, path)  # fails when another process was first; never overwrites
    except FileExistsError:
        return
    finally:
        made.unlink()


def load(path: Path) -> list[OKPKey]:
    """The keys of a file, the signing one first; raises SigningKeyProblem."""
    keys = load_public(path)
    if not keys[0].is_private:
        raise SigningKeyProblem(f"The signing key file {path.name} holds no private Ed25519 key.")
    return keys


def load_public(path: Path) -> list[OKPKey]:
    """The keys of a file, private or not, all Ed25519; raises SigningKeyProblem."""
    try:
        document = orjson.loads(path.read_bytes())
        keys = [OKPKey.import_key(entry) for entry in document.get("keys", [document])]
    except (OSError, ValueError, AttributeError, TypeError, JoseError) as problem:
        raise SigningKeyProblem(f"The key file {path.name} cannot be read.") from problem
    if not keys or any(key.curve_name != "Ed25519" for key in keys):
        raise SigningKeyProblem(f"The key file {path.name} holds no Ed25519 key, or another kind as well.")
    return keys


def _stamp(path: Path) -> tuple[int, int, int]:
    try:
        found = path.stat()
    except OSError as problem:
        raise SigningKeyProblem(f"The key file {path.name} is gone.") from problem
    return found.st_mtime_ns, found.st_ino, found.st_size


def sign(claims: Mapping[str, Any], key: OKPKey) -> str:
    """A compact JWS of the claims."""
    header = {"alg": ALGORITHM, "kid": key.thumbprint(), "typ": TYPE}
    return jws.serialize_compact(header, orjson.dumps(claims), key, algorithms=[ALGORITHM])


def claims_of(token: str) -> dict[str, Any]:
    """The claims of a statement that this house has kept; its signature is not looked at."""
    said: dict[str, Any] = orjson.loads(jws.extract_compact(token.encode()).payload)
    return said


def kid_of(token: str) -> str:
    """The name of the key that a statement of this house was signed with."""
    return str(jws.extract_compact(token.encode()).headers()["kid"])


def public_jwks(keys: Iterable[OKPKey]) -> dict[str, Any]:
    """The public halves as a JWK set."""
    return {
        "keys": [
            {**key.as_dict(private=False), "kid": key.thumbprint(), "alg": ALGORITHM, "use": "sig"}
            for key in keys
        ]
    }
