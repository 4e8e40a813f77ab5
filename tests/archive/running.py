"""Archives as the command line writes and reads them."""

import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from click.testing import CliRunner, Result

from service.cli import main
from service.core.settings import Settings
from tests.house import SECRET

Run = Callable[..., Result]


def run_in(settings: Settings) -> Run:
    environment = {
        "DIPLEDGER_HOME": str(settings.home),
        "DIPLEDGER_DATABASE_URL": settings.database_url,
        "DIPLEDGER_SECRET_KEY": SECRET,
        "DIPLEDGER_PUBLIC_URL": settings.public_url,
    }
    return lambda *words: CliRunner().invoke(main, [str(word) for word in words], env=environment)


def exported(settings: Settings, file: Path) -> Any:
    done = run_in(settings)("export", file, "--json")
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


def quiet(_table: str, _done: int, _of_all: int) -> None:
    """Nobody looks on."""


def rewritten(file: Path, change: Callable[[dict[str, bytes]], object]) -> Path:
    """The same archive with other parts."""
    with zipfile.ZipFile(file) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    change(parts)
    other = file.with_name("changed.zip")
    with zipfile.ZipFile(other, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return other


def told(parts: dict[str, bytes], **members: Any) -> None:
    """A manifest that says something else."""
    parts["manifest.json"] = json.dumps({**json.loads(parts["manifest.json"]), **members}).encode()
