"""The key of backups: the house has the public half and can only encrypt; the private half is kept elsewhere.

Each half is a file with one JWK (RFC 7517, X25519 by RFC 8037); a key's name is its RFC 7638 thumbprint.
"""

from pathlib import Path
from typing import cast

import orjson
from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey, X25519PublicKey
from joserfc.errors import JoseError
from joserfc.jwk import OKPKey

from service.core.ids import new_id
from service.core.new_file import new_file

PUBLIC, PRIVATE = "backup-key.json", "backup-key.private.json"
LOST = "Put it back, or make a new key: dipledger db backup-key FILE."


class BackupKeyProblem(ValueError):
    """A file holds no key of backups, or not the half that is needed; the message says what to do."""


def new_key(file: Path, home: Path) -> str:
    """Make a key: its private half in a new file, its public half in the house; gives its name.

    A former key stays where it was kept: backups made for it are read with it only. Raises FileExistsError,
    OSError.
    """
    made = OKPKey.generate_key("X25519")
    with new_file(file) as raw:
        raw.write(_written(made, private=True))
    _publish(made, home)
    return made.thumbprint()


def key_of(home: Path) -> OKPKey:
    """The public half of the house's key; a house without any gets one. Raises BackupKeyProblem, OSError."""
    public, private = home / PUBLIC, home / PRIVATE
    if not public.exists():
        if private.exists():  # something stopped between the two
            _publish(_read(private), home)
        else:
            new_key(private, home)
    return _read(public)


def left_in(home: Path) -> Path | None:
    """The private half of the house's key when it lies beside the public one, where it should not stay."""
    public, private = home / PUBLIC, home / PRIVATE
    if not (public.exists() and private.exists()):
        return None
    return private if _read(private).thumbprint() == _read(public).thumbprint() else None


def warned(private: Path) -> str:
    """What to say as long as the private half lies where it should not stay."""
    return (
        f"THE KEY LIES IN THE HOUSE: move {private} away from this machine and from the backups now, since "
        "whoever has it reads every backup, and without it nobody ever does."
    )


def private_half(file: Path) -> OKPKey:
    """The private half that a file holds; raises BackupKeyProblem."""
    found = _read(file)
    if not found.is_private:
        raise BackupKeyProblem(
            f"{file} holds the public half of a key, which only encrypts. Name the file with the private one."
        )
    return found


def for_encrypting(key: OKPKey) -> X25519PublicKey:
    """A public half as the library of ciphers wants it."""
    return cast("X25519PublicKey", key.public_key)  # _read takes no other curve


def for_decrypting(key: OKPKey) -> X25519PrivateKey:
    """A private half as the library of ciphers wants it."""
    return cast("X25519PrivateKey", key.private_key)  # private_half takes no other


def _read(file: Path) -> OKPKey:
    try:
        found = OKPKey.import_key(orjson.loads(file.read_bytes()))
    except (OSError, ValueError, TypeError, KeyError, JoseError) as problem:
        raise BackupKeyProblem(f"The key of backups in {file} cannot be read. {LOST}") from problem
    if found.curve_name != "X25519":
        raise BackupKeyProblem(f"{file} holds no key of backups (X25519). {LOST}")
    return found


def _publish(key: OKPKey, home: Path) -> None:
    written = home / f"{PUBLIC}.{new_id()}"
    with new_file(written) as raw:
        raw.write(_written(key, private=False))
    written.replace(home / PUBLIC)


def _written(key: OKPKey, *, private: bool) -> bytes:
    return orjson.dumps({**key.as_dict(private=private), "kid": key.thumbprint(), "use": "enc"}) + b"\n"
