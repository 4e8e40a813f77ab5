"""What is not as it was written is refused, and nothing of it is kept."""

import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from service.core.db import Database
from service.core.ids import new_id
from service.core.settings import Settings
from tests.api import Api
from tests.backups.running import done, nothing_is_kept, refused, rows, run_in
from tests.house import Templates, settings_for
from tests.make_lots import received_lot


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
    "of a later database": (lambda p: told(p, revision="9999"), "newer"),
    "of an older database": (lambda p: told(p, revision="0022"), "older"),
    "a hash that is none": (lambda p: told(p, sha256="x"), "damaged"),
}


@pytest.mark.promise(r=17)
@pytest.mark.parametrize("name", ALTERED)
def test_what_is_not_as_it_was_written_is_refused_and_nothing_is_kept(
    plain: Path, place: Settings, name: str
) -> None:
    change, code = ALTERED[name]
    file = changed(plain, change)
    refused(run_in(place)("db", "restore", file, "--json"), code)
    assert nothing_is_kept(place)


@pytest.mark.promise(r=17)
@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
@pytest.mark.parametrize("kind", ["plain", "encrypted"])
def test_a_file_cut_off_anywhere_is_refused_by_check_and_restore(
    backup: Path, plain: Path, key: Path, place: Settings, kind: str
) -> None:
    whole = (plain if kind == "plain" else backup).read_bytes()
    for tenth in range(10):
        file = backup.with_name(f"cut-{tenth}.backup")
        file.write_bytes(whole[: len(whole) * tenth // 10])
        for command in ("check", "restore"):
            said = run_in(place)("db", command, file, "--key", key, "--json")
            assert said.exit_code == 1, (tenth, command, said.output)
            assert json.loads(said.stdout)["code"] == "damaged"
    assert nothing_is_kept(place)


def test_a_backup_can_be_tried_without_a_place(backup: Path, key: Path, settings: Settings) -> None:
    found = done(run_in(settings)("db", "check", backup, "--key", key, "--json"))
    assert found["held"]
    assert not list(backup.parent.rglob(".dipledger-*"))


@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_what_proofs_find_wrong_is_kept_only_when_that_was_asked_for(
    api: Api, database: Database, settings: Settings, place: Settings, tmp_path: Path
) -> None:
    received_lot(api)
    with database.engine.begin() as connection:
        connection.execute(text("DROP TRIGGER journal_entry_no_update"))
        connection.execute(text("UPDATE journal_entry SET by = 'nobody' WHERE seq = 3"))
    file = tmp_path / "bent.backup"
    done(run_in(settings)("db", "backup", file, "--plain", "--json"))
    assert "broken at entry 3" in refused(run_in(place)("db", "restore", file, "--json"), "wrong")
    assert nothing_is_kept(place)
    assert run_in(place)("db", "check", file).exit_code == 1
    kept = run_in(place)("db", "restore", file, "--anyway", "--json")
    assert (kept.exit_code, json.loads(kept.stdout)["wrong"]) == (1, ["journal: broken at entry 3"])
    assert rows(place) == rows(settings)


def test_a_backup_of_the_other_kind_of_database_is_refused(
    plain: Path, database_kind: str, templates: Templates, tmp_path: Path
) -> None:
    other = "postgresql" if database_kind == "sqlite" else "sqlite"
    with templates.empty(other, f"k{new_id().replace('-', '')}", tmp_path) as url:
        said = run_in(settings_for(url, tmp_path))("db", "restore", plain, "--json")
        assert "dipledger export" in refused(said, "other-kind")
