"""R15: the signed heads that the house keeps each night find what the chain alone cannot."""

import json
import random
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest

from service.clearance.signing import make_key_file
from service.core.db import Database
from service.core.settings import Settings
from service.reports.heads import keep_head
from service.wiring import NIGHTLY
from tests.backups.running import done, refused, run_in
from tests.promises.test_r15_tampered_journal import Tamper, chained_anew, cut_off, unguarded, write

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)


def night(database: Database) -> None:
    with database.writing() as session:
        keep_head(session, None, NOW)


def checked(settings: Settings, file: Path) -> int:
    """How many heads the command found borne out."""
    found: int = done(run_in(settings)("journal", "check", "--heads", file, "--json"))["heads"]
    return found


def denied(settings: Settings, file: Path) -> str:
    return refused(run_in(settings)("journal", "check", "--heads", file, "--json"), "altered")


def test_every_night_keeps_a_head() -> None:
    assert NIGHTLY[:2] == ("prove", "keep_head")


@pytest.mark.promise(r=15)
@pytest.mark.parametrize("tamper", [cut_off, chained_anew])
def test_a_chain_made_to_fit_is_not_borne_out_by_the_heads(
    settings: Settings, database: Database, tamper: Tamper
) -> None:
    write(database, 4)
    night(database)
    write(database, 4)
    night(database)
    assert settings.heads.stat().st_mode & 0o777 == 0o600
    assert checked(settings, settings.heads) == 2
    with database.writing() as session:
        unguarded(session)
        tamper(session, random.Random(15))  # noqa: S311  # the same tamper in every run
    assert done(run_in(settings)("journal", "check", "--json"))["intact"]  # the chain alone cannot tell
    assert "heads are not borne out" in denied(settings, settings.heads)


@pytest.mark.promise(r=15)
def test_a_head_is_taken_for_what_was_signed_and_nothing_else(settings: Settings, database: Database) -> None:
    write(database, 2)
    night(database)
    write(database, 2)
    night(database)
    first, second = settings.heads.read_text().splitlines()
    other = {**json.loads(second), "hash": json.loads(first)["hash"]}
    for lines in ([json.dumps(other)], ["{}"], ["nonsense"], [second, first]):
        settings.heads.write_text("\n".join(lines) + "\n")
        denied(settings, settings.heads)
    settings.heads.write_text(f"{second}\n")
    assert checked(settings, settings.heads) == 1
    shutil.move(settings.signing_key_file, settings.home / "lost.json")
    make_key_file(settings.signing_key_file)
    assert "no head that a key of this house signed" in denied(settings, settings.heads)
