"""R2: a house starts on no database that forgets what it acknowledged, unless it is told to, aloud."""

from collections.abc import Mapping
from pathlib import Path

import pytest
from click.testing import CliRunner

from service.cli import main
from service.core import db
from service.core.db import Database
from service.core.durability import DEMANDS, durability, refuse_unsafe, unsafe
from tests import engines
from tests.house import SECRET, Templates

SAFE: Mapping[str, Mapping[str, str]] = {
    "postgresql": {"fsync": "on", "synchronous_commit": "on"},
    "sqlite": {"journal_mode": "wal", "synchronous": "2", "foreign_keys": "1"},
}


@pytest.mark.parametrize("kind", SAFE)
def test_what_keeps_its_promise_is_taken(kind: str) -> None:
    assert unsafe(kind, SAFE[kind]) == []


# The values that the manuals of PostgreSQL 16 and SQLite 3 give as weaker than the default of PostgreSQL.
@pytest.mark.promise(r=2)
@pytest.mark.parametrize(
    ("kind", "name", "value"),
    [
        ("postgresql", "fsync", "off"),
        ("postgresql", "synchronous_commit", "off"),
        ("sqlite", "synchronous", "0"),
        ("sqlite", "synchronous", "1"),
        ("sqlite", "journal_mode", "delete"),
        ("sqlite", "journal_mode", "memory"),
        ("sqlite", "journal_mode", "off"),
        ("sqlite", "foreign_keys", "0"),
    ],
)
def test_what_does_not_is_named_with_what_it_must_be(kind: str, name: str, value: str) -> None:
    [sentence] = unsafe(kind, {**SAFE[kind], name: value})
    assert sentence.startswith(f"{name} is {value}: ")
    assert all(good in sentence for good in DEMANDS[kind][name].safe)


@pytest.mark.promise(r=2)
def test_the_embedded_database_is_opened_safe(tmp_path: Path) -> None:
    own = made(f"sqlite:///{tmp_path}/own.sqlite3")
    refuse_unsafe(own)
    assert durability(own) == SAFE["sqlite"]
    own.dispose()


@pytest.mark.promise(r=2)
def test_a_house_does_not_start_on_an_unsafe_database_unless_it_is_told_to(
    templates: Templates, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    started: list[object] = []
    monkeypatch.setattr("service.cli.supervise", started.append)
    # The server of the tests trades safety for speed: it is the unsafe one.
    told = {
        "DIPLEDGER_HOME": str(tmp_path),
        "DIPLEDGER_DATABASE_URL": templates.afresh("postgresql"),
        "DIPLEDGER_SECRET_KEY": SECRET,
    }
    for command in ("serve", "web", "worker"):
        refused = CliRunner().invoke(main, [command], env=told)
        assert refused.exit_code == 1
        assert "fsync is off" in refused.stderr
        assert "DIPLEDGER_UNSAFE_DATABASE" in refused.stderr
    assert started == []
    warned = CliRunner().invoke(main, ["serve"], env={**told, "DIPLEDGER_UNSAFE_DATABASE": "yes"})
    assert warned.exit_code == 0
    assert "UNSAFE DATABASE: fsync is off" in warned.stderr
    assert len(started) == 1


def test_a_house_starts_while_its_database_is_not_there_yet(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("service.cli.supervise", lambda _commands: 0)
    gone = "postgresql+psycopg://nobody@127.0.0.1:1/none"
    told = {"DIPLEDGER_HOME": str(tmp_path), "DIPLEDGER_DATABASE_URL": gone, "DIPLEDGER_SECRET_KEY": SECRET}
    assert CliRunner().invoke(main, ["web"], env=told).exit_code == 0


def made(url: str) -> Database:
    """A database as the product opens it: the tests' own do not wait for the disk."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(db, "_engine", engines._make)
        return Database(url)
