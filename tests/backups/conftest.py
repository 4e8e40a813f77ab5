"""A house with a backup, and an empty place to put it back."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from service.core.ids import new_id
from service.core.settings import Settings
from tests.api import Api
from tests.backups.running import done, run_in
from tests.engines import ENGINES
from tests.house import Templates, settings_for
from tests.make_lots import received_lot
from tests.servers.binaries import postgresql as installed


@pytest.fixture(autouse=True)
def _programs(monkeypatch: pytest.MonkeyPatch) -> None:
    """The programs of the server that the tests run on; an older pg_dump refuses a newer server."""
    found = installed()
    folder = (found.base / found.program).parent
    monkeypatch.setenv("PATH", f"{folder}{os.pathsep}{os.environ['PATH']}")


@pytest.fixture
def place(database_kind: str, templates: Templates, tmp_path: Path) -> Iterator[Settings]:
    """An empty place of the same kind."""
    home = tmp_path / "other"
    home.mkdir()
    with templates.empty(database_kind, f"b{new_id().replace('-', '')}", home) as url:
        yield settings_for(url, home)
        ENGINES.dispose()


@pytest.fixture
def key(settings: Settings, tmp_path: Path) -> Path:
    """The private half of the key of the house's backups, kept elsewhere."""
    file = tmp_path / "stick" / "key.json"
    file.parent.mkdir()
    done(run_in(settings)("db", "backup-key", file, "--json"))
    return file


@pytest.fixture
def backup(api: Api, settings: Settings, key: Path, tmp_path: Path) -> Path:
    """A backup of a house with a lot in it, encrypted for that key."""
    received_lot(api)
    file = tmp_path / "house.backup"
    done(run_in(settings)("db", "backup", file, "--json"))
    return file


@pytest.fixture
def plain(api: Api, settings: Settings, tmp_path: Path) -> Path:
    """A backup of a house with a lot in it, not encrypted."""
    received_lot(api)
    file = tmp_path / "plain.backup"
    done(run_in(settings)("db", "backup", file, "--plain", "--json"))
    return file
