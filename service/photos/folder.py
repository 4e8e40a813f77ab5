"""The folder that photos are kept in: whole files under the hash of their content, never changed."""

import hashlib
import os
import tempfile
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from service.photos.rules import ENDINGS, SHA256, file_name, small_name

PHOTOS = "photos"  # under which sessions know the folder


@dataclass(frozen=True)
class Folder:
    """Where photos are kept."""

    path: Path

    def put(self, sha256: str, media_type: str, content: bytes) -> None:
        """Keep a photo; one that is there is made young again, so that the round of the night leaves it."""
        file = self.path / file_name(sha256, media_type)
        if _whole(file, sha256):
            os.utime(file)
            return
        _write(file, content)

    def get(self, sha256: str, media_type: str) -> bytes | None:
        """What is kept under this hash, None when it is lost or is not what the hash says."""
        try:
            content = (self.path / file_name(sha256, media_type)).read_bytes()
        except OSError:
            return None
        return content if hashlib.sha256(content).hexdigest() == sha256 else None

    def small(self, sha256: str) -> bytes | None:
        """The small picture, None when it was not made yet."""
        try:
            return (self.path / small_name(sha256)).read_bytes()
        except OSError:
            return None

    def put_small(self, sha256: str, content: bytes) -> None:
        """Keep a small picture."""
        _write(self.path / small_name(sha256), content)

    def size(self, sha256: str, media_type: str) -> int | None:
        """How many bytes the file has, None when it is lost."""
        try:
            return (self.path / file_name(sha256, media_type)).stat().st_size
        except OSError:
            return None

    def sweep(self, kept: Collection[str], before: datetime) -> int:
        """Remove files older than a moment that belong to no photo; gives how many, touches nothing else."""
        gone = 0
        for file in self._files():
            if file.stem not in kept and file.stat().st_mtime < before.timestamp():
                file.unlink(missing_ok=True)
                gone += 1
        return gone

    def _files(self) -> Iterator[Path]:
        for ending in ENDINGS.values():
            for pattern in (f"??/*.{ending}", f"small/??/*.{ending}"):
                yield from (file for file in self.path.glob(pattern) if SHA256.fullmatch(file.stem))


def _whole(file: Path, sha256: str) -> bool:
    try:
        return hashlib.sha256(file.read_bytes()).hexdigest() == sha256
    except OSError:
        return False


def _write(file: Path, content: bytes) -> None:
    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    descriptor, part = tempfile.mkstemp(dir=file.parent, prefix=".part-")  # 0600, as the database's own
    try:
        with os.fdopen(descriptor, "wb") as raw:
            raw.write(content)
            raw.flush()
            os.fsync(raw.fileno())
        Path(part).replace(file)
    except BaseException:
        Path(part).unlink(missing_ok=True)
        raise
