"""`dipledger db ...`: the database itself: brought to this version, looked at, backed up, put back."""

import sqlite3
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import Any

import click
from joserfc.jwk import OKPKey
from sqlalchemy.exc import DBAPIError

from service.backups import envelope, keys, restoring, taking, upgrading
from service.backups.keys import BackupKeyProblem
from service.backups.postgresql import DumpProblem
from service.backups.rules import Unfit
from service.core.clock import utc_now
from service.core.command_line import (
    NOT_EMPTY,
    WRONG,
    Found,
    Opened,
    Refused,
    Tell,
    answer,
    as_json_option,
    bar,
    told,
)
from service.core.settings import Settings

HELP = """The database: bring it to this version, look at it, back it up, put it back.

\b
Each night:           dipledger db backup /backups
After an upgrade:     dipledger db upgrade
Once:                 dipledger db backup-key KEY   (KEY on a stick that you take away: it reads the backups)
Every few months:     dipledger db check /backups/NEWEST --key KEY     (a backup nobody tried is a hope)
After a disaster:     dipledger db restore /backups/NEWEST --key KEY
"""
Where = Callable[[], Settings]
a_backup = click.Path(exists=True, dir_okay=False, path_type=Path)
key_option = click.option("--key", type=a_backup, help="The private half of the key it is encrypted for.")


def db_commands(settings: Found, begun: Where, opened: Opened) -> click.Group:
    """The commands; `begun` makes what a new house lacks. All three are called when a command runs."""
    group = click.Group("db", help=HELP)

    @group.command("upgrade")
    @click.option("--no-backup", is_flag=True, help="Take none before: you have one.")
    @as_json_option
    def upgrade(no_backup: bool, as_json: bool) -> None:
        """Bring the database to this version and adopt new reference data.

        Run it once after installing a new version, with the service stopped. A database that has something in
        it is backed up first, into the folder 'backups' of the house; what is at this version already is left
        as it is. A new, empty database gets its tables.

        \b
        Example: dipledger db upgrade
        Exit codes: 0 done, 1 refused (nothing was changed).
        """
        found = begun()
        with _unfit(), bar(quiet=as_json) as tell:
            done = upgrading.bring(found, opened, tell, backup=not no_backup)
        answer(asdict(done), done.said(), as_json=as_json)

    @group.command("check")
    @click.argument("backup", type=a_backup, required=False)
    @key_option
    @as_json_option
    def check(backup: Path | None, key: Path | None, as_json: bool) -> None:
        """Look whether the database is sound and safely kept, or whether BACKUP can be put back.

        Of the database: its version, damaged pages, rows that point to nothing, settings that could lose what
        was promised. Of a backup: everything that 'restore' would refuse, on a copy that is thrown away.
        Whether balances, clocks and certificates are right says 'dipledger check'.

        \b
        Examples: dipledger db check
                  dipledger db check /backups/dipledger-20260302T021500Z.backup --key /stick/key.json
        Exit codes: 0 all is well, 1 something is not.
        """
        with _unfit(), bar(quiet=as_json) as tell:
            looks = (
                upgrading.look(settings()) if backup is None else _rehearsed(settings(), backup, key, tell)
            )
        held = not any(wrong for _, _, wrong in looks)
        lines = [f"{'fails' if wrong else 'holds'}  {name}: {said}" for name, said, wrong in looks]
        parts = [{"name": name, "says": said, "held": not wrong} for name, said, wrong in looks]
        answer({"held": held, "checks": parts}, "\n".join(lines), as_json=as_json)
        sys.exit(0 if held else WRONG)

    @group.command("backup")
    @click.argument("file", type=click.Path(path_type=Path))
    @click.option("--plain", is_flag=True, help="Do not encrypt it: whoever has it reads names of customers.")
    @as_json_option
    def backup(file: Path, plain: bool, as_json: bool) -> None:
        """Write the database into one new FILE while people work; in a folder it gets a name with the time.

        It is encrypted for the key of the house, of which only the public half has to be here. A house
        without a key makes one and leaves its private half in backup-key.private.json: move that away.
        Take one each night and keep some on another machine. Not in it: the secret of the house and its
        signing keys (secret.key, signing-key.json); copy these once and after 'keys rotate', apart from it.
        Nor the folder of photos (photos in the house, or DIPLEDGER_PHOTO_FOLDER): copy it each night AFTER
        the backup, and put it back BEFORE 'restore', which proves that every photo is there.

        \b
        Examples: dipledger db backup /backups
                  dipledger db backup before-the-fair.backup --json
        Exit codes: 0 written, 1 nothing was written.
        """
        now = utc_now()
        place = file / f"dipledger-{now:%Y%m%dT%H%M%SZ}.backup" if file.is_dir() else file
        with _unfit(), bar(quiet=as_json) as tell:
            house = settings()
            key = None if plain else keys.key_of(house.home)
            found = taking.take(house, place, key, now, tell)
            left = keys.left_in(house.home) if key else None
        name = None if key is None else key.thumbprint()
        lines = [
            f"{place} is written: {place.stat().st_size} bytes, {_readable(name)}.",
            f"The journal has {found.entries} entries. Head {found.head}",
            *([keys.warned(left)] if left else []),
        ]
        said = {
            **asdict(found),
            "file": str(place),
            "key": name,
            "key_left": None if left is None else str(left),
        }
        answer(said, "\n".join(lines), as_json=as_json)

    @group.command("backup-key")
    @click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
    @as_json_option
    def backup_key(file: Path, as_json: bool) -> None:
        """Make a new key for backups: what reads them goes into FILE, what writes them into the house.

        Use it once, with FILE on a stick or disk that you take away from this machine, and again when
        somebody else may have FILE. Make a copy of FILE at a second place: without it no backup can be read.
        Backups that are there already are read with the former key only; keep that as long as them.

        \b
        Example: dipledger db backup-key /stick/backup-key.json
        Exit codes: 0 done, 1 refused (FILE is there already; nothing was changed).
        """
        with _unfit():
            name = keys.new_key(file, begun().home)
        text = (
            f"From now on backups are encrypted for the key {name}.\n"
            f"{file} alone reads them: keep it, and a copy, away from this machine and from the backups."
        )
        answer({"key": name, "file": str(file)}, text, as_json=as_json)

    @group.command("restore")
    @click.argument("file", type=a_backup)
    @key_option
    @click.option("--upgrade", "older", is_flag=True, help="Bring one of an older version to this one.")
    @click.option("--anyway", is_flag=True, help="Keep it even when proofs fail in it; they are named.")
    @as_json_option
    def restore(file: Path, key: Path | None, older: bool, anyway: bool, as_json: bool) -> None:
        """Put a backup FILE back into an empty place, and prove what it holds before anything is kept.

        For after a disaster, and for trying out that backups are good. Stop the service first. Nothing is
        ever written over: move the old database away, or set DIPLEDGER_HOME or DIPLEDGER_DATABASE_URL to a
        new one. Everybody signs in anew. What happened after the backup is lost, also that a token or a
        person was switched off: look through 'token' and 'user list', and tell integrations
        (docs/operations.md).

        \b
        Example: dipledger db restore /backups/dipledger-20260302T021500Z.backup --key /stick/key.json
        Exit codes: 0 done, 1 refused or (with --anyway) proofs fail, 3 there is a database already.
        """
        found = begun()
        with _unfit(), bar(quiet=as_json) as tell:
            done = restoring.restore(found, file, _private(found, key), tell, upgrade=older, anyway=anyway)
            name = envelope.key_named_in(file)
        about = {"file": str(file), "key": name, "revision": done.revision}
        said: dict[str, Any] = {**asdict(done.manifest), **about}
        lines = [
            f"{file} is back, as the house was at {done.manifest.made_at}. It is {_readable(name)}.",
            f"The journal has {done.manifest.entries} entries. Head {done.manifest.head}",
            *(f"fails  {wrong}" for wrong in done.wrong),
        ]
        answer({**said, "wrong": list(done.wrong)}, "\n".join(lines), as_json=as_json)
        sys.exit(WRONG if done.wrong else 0)

    return group


def _private(settings: Settings, file: Path | None) -> OKPKey | None:
    """The private half that was named, or that still lies in the house."""
    there = file or keys.left_in(settings.home)
    return None if there is None else keys.private_half(there)


def _readable(name: str | None) -> str:
    return f"encrypted for the key {name}" if name else "not encrypted, whoever has the file can read it"


def _rehearsed(settings: Settings, file: Path, key: Path | None, tell: Tell) -> list[tuple[str, str, bool]]:
    done = restoring.rehearse(settings, file, _private(settings, key), tell)
    said = f"made at {done.manifest.made_at} by {done.manifest.program}, {done.manifest.entries} entries"
    whole = (
        "as it was written" if done.manifest.kind == "sqlite" else "as it was written; proofs need a restore"
    )
    return [
        ("backup", said, False),
        ("encryption", _readable(envelope.key_named_in(file)), False),
        ("content", whole, False),
        *(("proof", wrong, True) for wrong in done.wrong),
    ]


@contextmanager
def _unfit() -> Iterator[None]:
    with told(OSError, DumpProblem, BackupKeyProblem, sqlite3.Error, DBAPIError):
        try:
            yield
        except Unfit as problem:
            code = NOT_EMPTY if problem.code == "not-empty" else WRONG
            raise Refused(str(problem), problem.code, code) from problem
