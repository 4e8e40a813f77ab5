"""What is around an encrypted backup: who can open it, and the plain backup in it, every byte authenticated.

One line of JSON that names the key; the key of this file alone, wrapped for that key by HPKE (RFC 9180, base
mode, with the line as its `info`, so that no byte of it can be another); then the chunks. Who has the public
half could write one too: what a backup says is proved by the journal in it, not by its envelope.
"""

import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.hpke import AEAD, KDF, KEM, Suite
from joserfc.jwk import OKPKey

from service.backups import chunks, rules
from service.backups.keys import for_decrypting, for_encrypting
from service.backups.rules import Unfit
from service.core.command_line import Tell

SUITE = Suite(KEM.X25519, KDF.HKDF_SHA256, AEAD.AES_256_GCM)
WRAPPED = 32 + 32 + 16  # of the wrapped key: the encapsulated one, the key, the tag
MOST_OF_A_LINE = 1024
MISSING = "This backup is encrypted for the key {}. Name the file with its private half: --key FILE."
OTHER = "This backup is encrypted for the key {}, not for {}. Name the file with the first: --key FILE."
DAMAGED = "The backup is not as it was written: it was damaged, cut off or altered. Take another one."


@contextmanager
def around(raw: IO[bytes], key: OKPKey | None) -> Iterator[IO[bytes] | chunks.Encrypting]:
    """What to write a backup into, so that it stands in `raw` encrypted for that key (None: as it is)."""
    if key is None:
        yield raw
        return
    line, own = rules.envelope_line(key.thumbprint()), secrets.token_bytes(32)
    raw.write(line + SUITE.encrypt(own, for_encrypting(key), info=line))
    inner = chunks.Encrypting(raw, own)
    yield inner
    inner.close()


def key_named_in(file: Path) -> str | None:
    """The name of the key that a file is encrypted for, None for one that is not; raises Unfit."""
    with file.open("rb") as source:
        line = source.readline(MOST_OF_A_LINE)
    return rules.key_in(line) if line.startswith(b"{") else None


def opened(file: Path, key: OKPKey | None, folder: Path, tell: Tell) -> Path:
    """The backup itself: the file as it is, or decrypted into a folder, all of it authenticated before.

    Raises Unfit when the key is missing or another, or any byte is not as it was written.
    """
    name = key_named_in(file)
    if name is None:
        return file
    if key is None:
        raise Unfit("no-key", MISSING.format(name))
    if key.thumbprint() != name:
        raise Unfit("other-key", OTHER.format(name, key.thumbprint()))
    plain = folder / "opened.backup"
    try:
        with file.open("rb") as source, plain.open("xb") as target:
            line = source.readline(MOST_OF_A_LINE)
            own = SUITE.decrypt(source.read(WRAPPED), for_decrypting(key), info=line)
            size = file.stat().st_size
            for piece in chunks.decrypted(source, own):
                target.write(piece)
                tell("decrypting", source.tell(), size)
    except InvalidTag as problem:
        raise Unfit("damaged", DAMAGED) from problem
    return plain
