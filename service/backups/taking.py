"""Taking a backup while people work."""

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from importlib.metadata import version
from pathlib import Path

from sqlalchemy.engine import make_url

from service.backups import container, postgresql, rules, sqlite
from service.backups.rules import Manifest
from service.core.command_line import Tell


def kind_of(url: str) -> str:
    """Which kind of database an address is of."""
    return make_url(url).get_backend_name()


def take(url: str, file: Path, now: datetime, tell: Tell) -> Manifest:
    """Write the database into a new file while people work; gives what stands in it.

    Raises FileExistsError, OSError, sqlite3.Error, postgresql.DumpProblem.
    """
    if file.exists():
        raise FileExistsError(f"{file} is there already. Name a new file.")
    kind = kind_of(url)
    with beside(file.parent) as folder:
        content = folder / rules.CONTENT[kind]
        if kind == "sqlite":
            sqlite.copy(sqlite.path_of(url), content, tell)
            revision, entries, head = sqlite.facts(content)
        else:
            revision, entries, head = postgresql.dump(url, content)
        manifest = Manifest(
            kind=kind,
            revision=revision,
            made_at=now.isoformat().replace("+00:00", "Z"),
            program=version("dipledger"),
            entries=entries,
            head=head,
            sealed=rules.PLAIN,
            size=content.stat().st_size,
            sha256=container.digest(content),
        )
        container.write(file, content, manifest, tell)
    return manifest


@contextmanager
def beside(folder: Path) -> Iterator[Path]:
    """A folder for what is not whole yet, on the same disk, readable by its owner only."""
    made = Path(tempfile.mkdtemp(prefix=".dipledger-", dir=folder))
    try:
        yield made
    finally:
        shutil.rmtree(made)
