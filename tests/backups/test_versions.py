"""Older databases and backups are brought to this version, newer ones left as they are."""

from pathlib import Path

import pytest
from sqlalchemy import text

from service.core.db import Database
from service.core.ids import new_id
from service.core.migrations import head, upgrade
from service.core.settings import Settings
from tests.backups.running import UNSAFE, done, refused, run_in, unsafe
from tests.engines import ENGINES
from tests.house import Templates, settings_for


@pytest.mark.promise(r=18)
def test_an_older_database_is_backed_up_and_brought_to_this_version(place: Settings) -> None:
    upgrade(place.database_url, "0022")
    run = run_in(place)
    assert run("db", "check").exit_code == 1
    said = done(run("db", "upgrade", "--json"))
    assert (said["was"], said["revision"]) == ("0022", head())
    assert said["adopted"]["pests"] > 0
    old, left = Path(said["backup"]), Path(said["key_left"])
    assert old.read_bytes()[:1] == b"{"
    assert left == place.home / "backup-key.private.json"
    assert done(run("db", "upgrade", "--json")) == {
        "was": head(),
        "revision": head(),
        "backup": None,
        "adopted": NONE,
        "key_left": None,
    }
    refused(run("db", "restore", old, "--json"), "older")


NONE = {"pests": 0, "plants": 0, "materials": 0, "protocols": 0, "policies": 0}


def test_an_older_backup_is_brought_to_this_version_when_that_was_asked_for(
    database_kind: str, place: Settings, templates: Templates, tmp_path: Path
) -> None:
    upgrade(place.database_url, "0022")
    done(run_in(place)("db", "backup", tmp_path / "old.backup", "--plain", "--json"))
    home = tmp_path / "third"
    home.mkdir()
    with templates.empty(database_kind, f"t{new_id().replace('-', '')}", home) as url:
        third = settings_for(url, home)
        said = done(run_in(third)("db", "restore", tmp_path / "old.backup", "--upgrade", "--json"))
        assert said["revision"] == head()
        assert unsafe(third) == UNSAFE[database_kind]
        ENGINES.dispose()


@pytest.mark.promise(r=18)
def test_a_database_of_a_newer_version_is_left_as_it_is(settings: Settings, database: Database) -> None:
    with database.writing() as session:
        session.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    refused(run_in(settings)("db", "upgrade", "--json"), "newer")
