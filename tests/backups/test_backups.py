"""A backup is one moment of the house, put back it is the same house, and nothing is ever written over."""

from pathlib import Path

import pytest
from sqlalchemy import text

from service.accounts.people import sign_in
from service.backups import postgresql, sqlite
from service.core.clock import utc_now
from service.core.db import Database
from service.core.migrations import head
from service.core.settings import Settings
from service.journal.acts import Act
from tests.api import Api
from tests.backups.running import UNSAFE, done, refused, rows, run_in, unsafe
from tests.engines import ENGINES
from tests.make_lots import received_lot
from tests.make_people import a_person


@pytest.mark.promise(r=17)
def test_a_house_put_back_is_the_same_house(
    backup: Path, key: Path, api: Api, settings: Settings, place: Settings, database_kind: str
) -> None:
    before = rows(settings)
    received_lot(api)  # after the backup: lost
    said = done(run_in(place)("db", "restore", backup, "--key", key, "--json"))
    assert (said["revision"], said["wrong"]) == (head(), [])
    assert rows(place) == before
    assert run_in(place)("journal", "check").output.split()[-1] == said["head"]
    assert run_in(place)("check").exit_code == 0
    assert unsafe(place) == UNSAFE[database_kind]
    assert backup.stat().st_mode & 0o777 == 0o600


def test_nobody_is_signed_in_by_a_backup(
    database: Database, settings: Settings, place: Settings, tmp_path: Path
) -> None:
    ines, now = a_person(database), utc_now()
    with database.writing() as session:
        sign_in(session, Act("tests", now, now), ines, totp_step=None)
    done(run_in(settings)("db", "backup", tmp_path / "a.backup", "--plain", "--json"))
    done(run_in(place)("db", "restore", tmp_path / "a.backup", "--json"))
    other = Database(place.database_url)
    with other.reading() as session:
        assert session.scalar(text("SELECT count(*) FROM signed_in")) == 0
        assert session.scalar(text("SELECT count(*) FROM person")) == 1
    other.dispose()


def test_nothing_is_ever_written_over(backup: Path, key: Path, settings: Settings, place: Settings) -> None:
    before = rows(settings)
    assert "is there already" in refused(run_in(settings)("db", "backup", backup, "--json"), "refused")
    ENGINES.dispose()
    detail = refused(run_in(settings)("db", "restore", backup, "--key", key, "--json"), "not-empty", 3)
    assert "Nothing is ever written over" in detail or "nothing is ever written over" in detail
    assert rows(settings) == before


@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_what_sqlite_left_beside_an_old_file_is_never_met_by_a_new_one(plain: Path, place: Settings) -> None:
    # Its log would be taken for one of the restored database.
    [left, *_] = sqlite.beside(sqlite.path_of(place.database_url))
    left.write_bytes(b"of another database")
    refused(run_in(place)("db", "restore", plain, "--json"), "not-empty", 3)


@pytest.mark.parametrize("database_kind", ["postgresql"], indirect=True)
def test_without_the_programs_of_postgresql_it_says_what_to_install(
    settings: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(postgresql, "DEBIAN", tmp_path)
    said = refused(run_in(settings)("db", "backup", tmp_path / "a.backup", "--json"), "refused")
    assert "pg_dump is not installed here" in said
    assert "postgresql-client" in said
    assert not (tmp_path / "a.backup").exists()
