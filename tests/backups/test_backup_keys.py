"""Backups are encrypted for a key whose private half is not needed to take them, and should not be there."""

import errno
import json
import os
import zipfile
from pathlib import Path

import pytest

from service.clearance.signing import make_key_file
from service.core.settings import Settings
from tests.api import Api
from tests.backups.running import done, nothing_is_kept, refused, rows, run_in
from tests.backups.test_altered_backups import changed, told
from tests.make_lots import received_lot


@pytest.mark.promise(r=17)
def test_whoever_takes_the_machine_and_its_backups_cannot_read_them(
    backup: Path, key: Path, settings: Settings, place: Settings
) -> None:
    d = json.loads(key.read_text())["d"]
    assert not any(d.encode() in file.read_bytes() for file in settings.home.glob("*") if file.is_file())
    assert key.stat().st_mode & 0o777 == 0o600
    name = json.loads(key.read_text())["kid"]
    for command in ("check", "restore"):
        for with_key in ([], ["--key", settings.home / "backup-key.json"]):
            said = refused(
                run_in(place)("db", command, backup, *with_key, "--json"), "refused" if with_key else "no-key"
            )
            assert ("public half" if with_key else name) in said
    assert nothing_is_kept(place)


@pytest.mark.promise(r=17)
def test_what_stands_in_the_house_is_read_in_a_plain_backup_only(
    backup: Path, plain: Path, settings: Settings
) -> None:
    with zipfile.ZipFile(plain) as archive:
        names = archive.namelist()
    assert names[0] == "manifest.json"
    content = backup.read_bytes()
    assert not zipfile.is_zipfile(backup)
    assert not any(name.encode() in content for name in names)
    assert not list(settings.home.rglob(".dipledger-*"))


@pytest.mark.promise(r=17)
def test_another_key_is_refused_and_the_one_it_wants_is_named(
    backup: Path, key: Path, settings: Settings, place: Settings, tmp_path: Path
) -> None:
    newer = tmp_path / "newer.json"
    done(run_in(settings)("db", "backup-key", newer, "--json"))
    said = refused(run_in(place)("db", "restore", backup, "--key", newer, "--json"), "other-key")
    assert json.loads(key.read_text())["kid"] in said
    assert nothing_is_kept(place)
    # What was taken before the change of keys is read with the former one, what comes after with the new one.
    done(run_in(place)("db", "check", backup, "--key", key, "--json"))
    later = tmp_path / "later.backup"
    done(run_in(settings)("db", "backup", later, "--json"))
    done(run_in(place)("db", "check", later, "--key", newer, "--json"))
    refused(run_in(place)("db", "check", later, "--key", key, "--json"), "other-key")


def test_a_house_without_a_key_makes_one_and_says_where_its_private_half_lies(
    api: Api, settings: Settings, place: Settings, tmp_path: Path
) -> None:
    received_lot(api)
    run, left = run_in(settings), settings.home / "backup-key.private.json"
    said = run("db", "backup", tmp_path / "a.backup").output
    assert f"move {left} away from this machine" in said
    told = done(run("db", "backup", tmp_path / "b.backup", "--json"))
    assert told["key_left"] == str(left)
    assert left.stat().st_mode & 0o777 == 0o600
    done(run("db", "check", tmp_path / "a.backup", "--json"))  # as long as it lies there it is found
    away = tmp_path / "away.json"
    left.rename(away)
    told = done(run("db", "backup", tmp_path / "c.backup", "--json"))
    assert (told["key_left"], told["key"]) == (None, json.loads(away.read_text())["kid"])
    refused(run("db", "check", tmp_path / "c.backup", "--json"), "no-key")
    done(run_in(place)("db", "restore", tmp_path / "c.backup", "--key", away, "--json"))
    assert rows(place) == rows(settings)


def test_the_trial_says_for_which_key_a_backup_is_encrypted(
    backup: Path, plain: Path, key: Path, settings: Settings
) -> None:
    name = json.loads(key.read_text())["kid"]
    said = {file: run_in(settings)("db", "check", file, "--key", key).output for file in (backup, plain)}
    assert f"encrypted for the key {name}" in said[backup]
    assert "not encrypted" in said[plain]


def test_a_backup_of_before_they_were_encrypted_is_read(
    plain: Path, place: Settings, settings: Settings
) -> None:
    """Its manifest said how its content was sealed: not at all."""
    old = changed(plain, lambda parts: told(parts, sealed="none"))
    done(run_in(place)("db", "restore", old, "--json"))
    assert rows(place) == rows(settings)


def test_a_key_is_never_written_over(key: Path, settings: Settings) -> None:
    before = key.read_bytes(), (settings.home / "backup-key.json").read_bytes()
    assert "is there already" in refused(run_in(settings)("db", "backup-key", key, "--json"), "refused")
    assert (key.read_bytes(), (settings.home / "backup-key.json").read_bytes()) == before


@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
@pytest.mark.parametrize(
    "content", ["", "[]", "{}", '{"kty": "OKP", "crv": "Ed25519", "x": "AA"}', "signing"]
)
def test_a_file_that_is_no_key_is_refused(
    backup: Path, settings: Settings, place: Settings, tmp_path: Path, content: str
) -> None:
    file = tmp_path / "wrong.json"
    if content == "signing":
        make_key_file(tmp_path / "signing-key.json")
        content = (tmp_path / "signing-key.json").read_text()
    file.write_text(content)
    assert "key of backups" in refused(
        run_in(place)("db", "restore", backup, "--key", file, "--json"), "refused"
    )
    (settings.home / "backup-key.json").write_text(content)
    assert "key of backups" in refused(
        run_in(settings)("db", "backup", tmp_path / "more.backup", "--json"), "refused"
    )
    assert not (tmp_path / "more.backup").exists()


@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_a_house_that_was_stopped_between_the_two_halves_goes_on_with_the_one(
    settings: Settings, tmp_path: Path
) -> None:
    run = run_in(settings)
    first = done(run("db", "backup", tmp_path / "a.backup", "--json"))
    (settings.home / "backup-key.json").unlink()
    assert done(run("db", "backup", tmp_path / "b.backup", "--json"))["key"] == first["key"]


@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_a_stick_that_knows_no_second_names_takes_a_key_and_a_backup(
    settings: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stick, second_name = tmp_path / "stick", os.link
    stick.mkdir()

    def as_on_a_stick(source: Path, target: Path) -> None:
        if target.parent == stick:
            raise PermissionError(errno.EPERM, "Operation not permitted")
        second_name(source, target)

    monkeypatch.setattr(os, "link", as_on_a_stick)
    run, key, file = run_in(settings), stick / "key.json", stick / "a.backup"
    done(run("db", "backup-key", key, "--json"))
    done(run("db", "backup", file, "--json"))
    done(run("db", "check", file, "--key", key, "--json"))
    refused(run("db", "backup-key", key, "--json"), "refused")
    assert {found.name for found in stick.iterdir()} == {"key.json", "a.backup"}
