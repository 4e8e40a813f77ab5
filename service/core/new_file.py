"""Writing a file that is complete or not there."""

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

NO_SECOND_NAMES = {errno.EPERM, errno.ENOTSUP, errno.ENOSYS}  # how sticks and some shares refuse them


@contextmanager
def new_file(file: Path) -> Iterator[IO[bytes]]:
    """A file to write into, readable by its owner only, that gets its name when the block ends well.

    Nothing is ever written over. Raises FileExistsError.
    """
    if file.exists():
        raise FileExistsError(f"{file} is there already. Name a new file.")
    part = file.with_name(f"{file.name}.part")
    descriptor = os.open(part, os.O_RDWR | os.O_CREAT | os.O_TRUNC, 0o600)
    try:
        with os.fdopen(descriptor, "w+b") as raw:
            yield raw
            raw.flush()
            os.fsync(raw.fileno())
        name_for_good(part, file)
    finally:
        part.unlink(missing_ok=True)


def name_for_good(part: Path, file: Path) -> None:
    """Give a whole file its second name; fails when somebody else was first, and never overwrites."""
    try:
        os.link(part, file)
    except OSError as problem:
        if problem.errno not in NO_SECOND_NAMES:
            raise
        os.close(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
        part.replace(file)
    folder = os.open(file.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
