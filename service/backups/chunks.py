"""Encrypting a stream in chunks, each authenticated in its place: none is lost, added, exchanged or altered.

The STREAM construction: V. T. Hoang, R. Reyhanitabar, P. Rogaway and D. Vizár, Online
Authenticated-Encryption and its Nonce-Reuse Misuse-Resistance, CRYPTO 2015; with AES-256-GCM (NIST
SP 800-38D). The nonce of a chunk is its number (11 bytes, from 0) and whether it is the last (1 byte), so a
key serves one stream only.
"""

from collections.abc import Iterator
from typing import IO

from cryptography.hazmat.primitives.ciphers.aead import AESGCM

CHUNK = 1024 * 1024  # bytes before they are encrypted; only the last chunk may have fewer
TAG = 16


class Encrypting:
    """Something to write into: it comes out encrypted in `target`. `close` writes the last chunk."""

    def __init__(self, target: IO[bytes], key: bytes, chunk: int = CHUNK) -> None:
        self._target, self._cipher, self._chunk = target, AESGCM(key), chunk
        self._held = bytearray()
        self._number = 0

    def write(self, data: bytes) -> int:
        """Take bytes; gives how many."""
        self._held += data
        while len(self._held) > self._chunk:  # what may be the last chunk waits
            self._put(last=False)
        return len(data)

    def flush(self) -> None:
        """Pass on what was written; what is held goes with its chunk."""
        self._target.flush()

    def close(self) -> None:
        """Write what is held as the last chunk; without it the stream cannot be read."""
        self._put(last=True)

    def _put(self, *, last: bool) -> None:
        piece = bytes(self._held[: self._chunk])
        del self._held[: self._chunk]
        self._target.write(self._cipher.encrypt(_nonce(self._number, last=last), piece, None))
        self._number += 1


def decrypted(source: IO[bytes], key: bytes, chunk: int = CHUNK) -> Iterator[bytes]:
    """The chunks of a stream as they were; raises InvalidTag where one is not, or too few are there.

    What comes before is right, but is not the whole: keep nothing of it.
    """
    cipher, number = AESGCM(key), 0
    piece = source.read(chunk + TAG)
    while True:
        following = source.read(chunk + TAG)
        yield cipher.decrypt(_nonce(number, last=not following), piece, None)
        if not following:
            return
        piece, number = following, number + 1


def _nonce(number: int, *, last: bool) -> bytes:
    return number.to_bytes(11, "big") + bytes([last])
