"""Archives as the command line writes and reads them."""

import json
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
