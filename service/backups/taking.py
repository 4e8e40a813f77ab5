"""Taking a backup while people work."""

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from importlib.metadata import version
from pathlib import Path

from joserfc.jwk import OKPKey
from sqlalchemy.engine import make_url

from service.backups import container, postgresql, rules, sqlite
from service.backups.rules import Manifest
from service.core.command_line import Tell
from service.core.settings import Settings


def kind_of(url: str) -> str:
    """Which kind of database an address is of."""
    return make_url(url).get_backend_name()


def take(settings: Settings, file: Path, key: OKPKey | None, now: datetime, tell: Tell) -> Manifest:
    """Write the database into a new file, encrypted for a key, while people work; gives what stands in it.

    Without a key anybody can read it. Raises FileExistsError, OSError, sqlite3.Error, postgresql.DumpProblem.
    """
    if file.exists():
        raise FileExistsError(f"{file} is there already. Name a new file.")
    url = settings.database_url
    kind = kind_of(url)
    # What is not encrypted yet lies where the database does, never where backups go.
    stage = sqlite.path_of(url).parent if kind == "sqlite" else settings.home
    with beside(stage) as folder:
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
            size=content.stat().st_size,
            sha256=container.digest(content),
        )
        container.write(file, content, manifest, key, tell)
    return manifest


@contextmanager
def beside(folder: Path) -> Iterator[Path]:
    """A new folder in that one for what is not whole yet, readable by its owner only; gone at the end."""
    made = Path(tempfile.mkdtemp(prefix=".dipledger-", dir=folder))
    try:
        yield made
    finally:
        shutil.rmtree(made)
