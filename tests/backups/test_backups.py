"""`dipledger db ...`: a backup is one moment of the house; what is not whole is refused, nothing kept."""

import json
import os
import shutil
import sqlite3
import threading
import zipfile
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from sqlalchemy import text

from service.accounts.people import sign_in
from service.backups import postgresql, sqlite
from service.cli import main
from service.core.clock import utc_now
from service.core.db import Database
from service.core.ids import new_id
from service.core.migrations import head, upgrade
from service.core.settings import Settings
from service.journal.acts import Act
from tests.api import Api
from tests.engines import ENGINES
from tests.house import SECRET, Templates, settings_for
from tests.make_lots import received_lot
from tests.make_people import a_person
from tests.servers.binaries import postgresql as installed
from tests.unchanged import contents

Run = Callable[..., Result]


@pytest.fixture(autouse=True)
def _programs(monkeypatch: pytest.MonkeyPatch) -> None:
    """The programs of the server that the tests run on; an older pg_dump refuses a newer server."""
    found = installed()
    folder = (found.base / found.program).parent
    monkeypatch.setenv("PATH", f"{folder}{os.pathsep}{os.environ['PATH']}")


def run_in(settings: Settings) -> Run:
    environment = {
        "DIPLEDGER_HOME": str(settings.home),
        "DIPLEDGER_DATABASE_URL": settings.database_url,
        "DIPLEDGER_SECRET_KEY": SECRET,
    }
    return lambda *words: CliRunner().invoke(main, [str(word) for word in words], env=environment)


def done(result: Result) -> Any:
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def refused(result: Result, code: str, exit_code: int = 1) -> str:
    assert result.exit_code == exit_code, result.output
    said = json.loads(result.stdout)
    assert said["code"] == code, said
    return str(said["detail"])


@pytest.fixture
def place(database_kind: str, templates: Templates, tmp_path: Path) -> Iterator[Settings]:
    """An empty place of the same kind."""
    home = tmp_path / "other"
    home.mkdir()
    with templates.empty(database_kind, f"b{new_id().replace('-', '')}", home) as url:
        yield settings_for(url, home)
        ENGINES.dispose()


@pytest.fixture
def backup(api: Api, settings: Settings, tmp_path: Path) -> Path:
    """A backup of a house with a lot in it."""
    received_lot(api)
    file = tmp_path / "house.backup"
    done(run_in(settings)("db", "backup", file, "--json"))
    return file


def rows(settings: Settings) -> dict[str, list[Any]]:
    found = Database(settings.database_url)
    try:
        return {name: kept for name, kept in contents(found).items() if name != "signed_in"}
    finally:
        found.dispose()


def unsafe(settings: Settings) -> set[str]:
    """What `db check` finds wrong."""
    found = run_in(settings)("db", "check", "--json")
    wrong = {check["name"] for check in json.loads(found.stdout)["checks"] if not check["held"]}
    assert found.exit_code == bool(wrong)
    return wrong


# The server of the tests takes speed for safety, as no house may: the command says so.
UNSAFE = {"sqlite": set(), "postgresql": {"fsync", "full_page_writes", "synchronous_commit"}}


def nothing_is_kept(settings: Settings) -> bool:
    if settings.database_url.startswith("sqlite"):
        return not any(file.name.startswith(("b", ".d")) for file in settings.home.iterdir())
    found = Database(settings.database_url)
    with found.reading() as session:
        tables = session.scalar(text("SELECT count(*) FROM pg_tables WHERE schemaname = 'public'"))
        functions = session.scalar(text("SELECT count(*) FROM pg_proc WHERE proname = 'refuse_change'"))
    found.dispose()
    return (tables, functions) == (0, 0)


def test_a_house_put_back_is_the_same_house(
    backup: Path, api: Api, settings: Settings, place: Settings, database_kind: str
) -> None:
    before = rows(settings)
    received_lot(api)  # after the backup: lost
    said = done(run_in(place)("db", "restore", backup, "--json"))
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
    done(run_in(settings)("db", "backup", tmp_path / "a.backup", "--json"))
    done(run_in(place)("db", "restore", tmp_path / "a.backup", "--json"))
    other = Database(place.database_url)
    with other.reading() as session:
        assert session.scalar(text("SELECT count(*) FROM signed_in")) == 0
        assert session.scalar(text("SELECT count(*) FROM person")) == 1
    other.dispose()


def test_nothing_is_ever_written_over(backup: Path, settings: Settings, place: Settings) -> None:
    before = rows(settings)
    assert "is there already" in refused(run_in(settings)("db", "backup", backup, "--json"), "refused")
    ENGINES.dispose()
    detail = refused(run_in(settings)("db", "restore", backup, "--json"), "not-empty", 3)
    assert "Nothing is ever written over" in detail or "nothing is ever written over" in detail
    assert rows(settings) == before


@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_what_sqlite_left_beside_an_old_file_is_never_met_by_a_new_one(backup: Path, place: Settings) -> None:
    # Its log would be taken for one of the restored database.
    [left, *_] = sqlite.beside(sqlite.path_of(place.database_url))
    left.write_bytes(b"of another database")
    refused(run_in(place)("db", "restore", backup, "--json"), "not-empty", 3)


def changed(file: Path, change: Callable[[dict[str, bytes]], object]) -> Path:
    """The same backup with other parts."""
    with zipfile.ZipFile(file) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    change(parts)
    other = file.with_name("changed.backup")
    with zipfile.ZipFile(other, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return other


def told(parts: dict[str, bytes], **members: Any) -> None:
    parts["manifest.json"] = json.dumps({**json.loads(parts["manifest.json"]), **members}).encode()


def flipped(parts: dict[str, bytes]) -> None:
    [content] = parts.keys() - {"manifest.json"}
    middle = len(parts[content]) // 2
    byte = bytes([parts[content][middle] ^ 1])
    parts[content] = parts[content][:middle] + byte + parts[content][middle + 1 :]


ALTERED: dict[str, tuple[Callable[[dict[str, bytes]], object], str]] = {
    "one bit is another": (flipped, "damaged"),
    "no manifest": (lambda p: p.pop("manifest.json"), "no-backup"),
    "the manifest is none": (lambda p: p.update({"manifest.json": b"[1]"}), "damaged"),
    "another format": (lambda p: told(p, format="x"), "no-backup"),
    "a file is more": (lambda p: p.update({"more": b""}), "damaged"),
    "the journal ends elsewhere": (lambda p: told(p, entries=1), "damaged"),
    "another head": (lambda p: told(p, head="0" * 64), "damaged"),
    "of a later version": (lambda p: told(p, version=2), "newer"),
    "sealed by a later version": (lambda p: told(p, sealed="age"), "newer"),
    "of a later database": (lambda p: told(p, revision="9999"), "newer"),
    "of an older database": (lambda p: told(p, revision="0022"), "older"),
    "a hash that is none": (lambda p: told(p, sha256="x"), "damaged"),
}


@pytest.mark.parametrize("name", ALTERED)
def test_what_is_not_as_it_was_written_is_refused_and_nothing_is_kept(
    backup: Path, place: Settings, name: str
) -> None:
    change, code = ALTERED[name]
    file = changed(backup, change)
    refused(run_in(place)("db", "restore", file, "--json"), code)
    assert nothing_is_kept(place)


@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_a_file_cut_off_anywhere_is_refused_by_check_and_restore(backup: Path, place: Settings) -> None:
    whole = backup.read_bytes()
    for tenth in range(10):
        file = backup.with_name(f"cut-{tenth}.backup")
        file.write_bytes(whole[: len(whole) * tenth // 10])
        for command in ("check", "restore"):
            said = run_in(place)("db", command, file, "--json")
            assert said.exit_code == 1, (tenth, command, said.output)
            assert json.loads(said.stdout)["code"] == "damaged"
    assert nothing_is_kept(place)


def test_a_backup_can_be_tried_without_a_place(backup: Path, settings: Settings) -> None:
    found = done(run_in(settings)("db", "check", backup, "--json"))
    assert found["held"]
    assert not list(backup.parent.glob(".dipledger-*"))


@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_what_proofs_find_wrong_is_kept_only_when_that_was_asked_for(
    api: Api, database: Database, settings: Settings, place: Settings, tmp_path: Path
) -> None:
    received_lot(api)
    with database.engine.begin() as connection:
        connection.execute(text("DROP TRIGGER journal_entry_no_update"))
        connection.execute(text("UPDATE journal_entry SET by = 'nobody' WHERE seq = 3"))
    file = tmp_path / "bent.backup"
    done(run_in(settings)("db", "backup", file, "--json"))
    assert "broken at entry 3" in refused(run_in(place)("db", "restore", file, "--json"), "wrong")
    assert nothing_is_kept(place)
    assert run_in(place)("db", "check", file).exit_code == 1
    kept = run_in(place)("db", "restore", file, "--anyway", "--json")
    assert (kept.exit_code, json.loads(kept.stdout)["wrong"]) == (1, ["journal: broken at entry 3"])
    assert rows(place) == rows(settings)


def test_a_backup_of_the_other_kind_of_database_is_refused(
    backup: Path, database_kind: str, templates: Templates, tmp_path: Path
) -> None:
    other = "postgresql" if database_kind == "sqlite" else "sqlite"
    with templates.empty(other, f"k{new_id().replace('-', '')}", tmp_path) as url:
        said = run_in(settings_for(url, tmp_path))("db", "restore", backup, "--json")
        assert "dipledger export" in refused(said, "other-kind")


def test_an_older_database_is_backed_up_and_brought_to_this_version(place: Settings) -> None:
    upgrade(place.database_url, "0022")
    run = run_in(place)
    assert run("db", "check").exit_code == 1
    said = done(run("db", "upgrade", "--json"))
    assert (said["was"], said["revision"]) == ("0022", head())
    assert said["adopted"]["pests"] > 0
    old = Path(said["backup"])
    assert done(run("db", "upgrade", "--json")) == {**said, "was": head(), "backup": None, "adopted": NONE}
    refused(run("db", "restore", old, "--json"), "older")


NONE = {"pests": 0, "plants": 0, "materials": 0, "protocols": 0, "policies": 0}


def test_an_older_backup_is_brought_to_this_version_when_that_was_asked_for(
    database_kind: str, place: Settings, templates: Templates, tmp_path: Path
) -> None:
    upgrade(place.database_url, "0022")
    done(run_in(place)("db", "backup", tmp_path / "old.backup", "--json"))
    home = tmp_path / "third"
    home.mkdir()
    with templates.empty(database_kind, f"t{new_id().replace('-', '')}", home) as url:
        third = settings_for(url, home)
        said = done(run_in(third)("db", "restore", tmp_path / "old.backup", "--upgrade", "--json"))
        assert said["revision"] == head()
        assert unsafe(third) == UNSAFE[database_kind]
        ENGINES.dispose()


def test_a_database_of_a_newer_version_is_left_as_it_is(settings: Settings, database: Database) -> None:
    with database.writing() as session:
        session.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    refused(run_in(settings)("db", "upgrade", "--json"), "newer")


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


@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_damaged_pages_are_found(settings: Settings, place: Settings) -> None:
    file = sqlite.path_of(settings.database_url)
    target = sqlite.path_of(place.database_url)
    shutil.copyfile(file, target)
    size = target.stat().st_size
    with target.open("r+b") as raw:
        for page in range(10, size // 4096, 7):
            raw.seek(page * 4096)
            raw.write(bytes(range(256)) * 8)
    found = run_in(place)("db", "check", "--json")
    assert found.exit_code == 1
    assert not json.loads(found.stdout)["checks"][-1]["held"]


class Bank:
    """Purses whose sum never changes, written by another connection all the time, each move counted."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.stopped = threading.Event()
        with closing(sqlite3.connect(file)) as made:
            made.execute("PRAGMA journal_mode=WAL")
            made.execute("CREATE TABLE purse (id INTEGER PRIMARY KEY, sum INTEGER, filler BLOB)")
            made.execute("CREATE TABLE moved (times INTEGER)")
            made.execute("INSERT INTO moved VALUES (0)")
            purses = [(n,) for n in range(800)]
            made.executemany("INSERT INTO purse VALUES (?, 1000, randomblob(3000))", purses)
            made.commit()

    def move(self) -> None:
        with closing(sqlite3.connect(self.file, timeout=30)) as own:
            while not self.stopped.is_set():
                times = own.execute("SELECT times FROM moved").fetchone()[0]
                own.execute("BEGIN IMMEDIATE")
                own.execute("UPDATE purse SET sum = sum - 1 WHERE id = ?", [times % 800])
                own.execute("UPDATE purse SET sum = sum + 1 WHERE id = ?", [(times * 37 + 1) % 800])
                own.execute("UPDATE moved SET times = times + 1")
                own.commit()


def one(file: Path, query: str) -> int:
    with closing(sqlite3.connect(file)) as opened:
        return int(opened.execute(query).fetchone()[0])


TIMES, SUM = "SELECT times FROM moved", "SELECT sum(sum) FROM purse"


def test_a_copy_of_sqlite_while_others_write_is_one_moment_and_a_plain_copy_misses_rows(
    tmp_path: Path,
) -> None:
    """R17 of the promises: 25 copies in a row, and the careless way beside them."""
    bank = Bank(tmp_path / "bank.sqlite3")
    writer = threading.Thread(target=bank.move)
    writer.start()
    stale = 0
    try:
        for n in range(25):
            target, careless = tmp_path / f"copy-{n}.sqlite3", tmp_path / f"careless-{n}.sqlite3"
            before = one(bank.file, TIMES)
            sqlite.copy(bank.file, target, lambda *_: None)
            assert one(target, SUM) == 800_000
            assert one(target, TIMES) >= before
            assert sqlite.faults(target) == []
            before = one(bank.file, TIMES)
            shutil.copyfile(bank.file, careless)
            try:
                stale += one(careless, TIMES) < before
            except sqlite3.Error:
                stale += 1
    finally:
        bank.stopped.set()
        writer.join()
    assert stale > 0
