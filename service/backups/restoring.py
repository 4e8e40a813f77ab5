"""Putting a backup back, all of it or nothing; and looking whether that would do."""

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from alembic.script import ScriptDirectory
from joserfc.jwk import OKPKey
from sqlalchemy import text

from service import wiring
from service.backups import container, envelope, postgresql, rules, sqlite
from service.backups.rules import Manifest, Unfit
from service.backups.taking import beside, kind_of
from service.core import migrations
from service.core.clock import utc_now
from service.core.command_line import Tell
from service.core.db import snapshot
from service.core.new_file import name_for_good
from service.core.settings import Settings
from service.journal.queries import check_chain
from service.reports.proofs import prove

THERE = (
    "There is a database already: {}. Nothing is ever written over. Stop the service and move it away first, "
    "all of its files together: mkdir old && mv {}* old/"
)


@dataclass(frozen=True)
class Restored:
    """What was put back, and which proofs fail in it (none, unless that was allowed)."""

    manifest: Manifest
    revision: str
    wrong: Sequence[str]


def rehearse(settings: Settings, file: Path, key: OKPKey | None, tell: Tell) -> Restored:
    """Look whether a backup can be put back, and leave nothing behind.

    One of SQLite is restored into a folder that is thrown away, and proved; of one of PostgreSQL the dump is
    read through. Raises Unfit, DumpProblem.
    """
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        plain = envelope.opened(file, key, folder, tell)
        manifest = container.manifest_in(plain)
        if manifest.kind == "sqlite":
            there = replace(settings, database_url=f"sqlite:///{folder / 'house.sqlite3'}")
            return _restored(there, plain, tell, upgrade=True, anyway=True)
        content = folder / rules.CONTENT[manifest.kind]
        with content.open("wb") as target:
            container.unpack(plain, target, tell)
        postgresql.listed(content)
    return Restored(manifest, manifest.revision, ())


def restore(
    settings: Settings, file: Path, key: OKPKey | None, tell: Tell, *, upgrade: bool, anyway: bool
) -> Restored:
    """Put a backup back into an empty place and prove it; when anything is wrong, nothing is kept.

    `key`: the private half for one that is encrypted. `upgrade`: an older one is brought to this version.
    `anyway`: proofs may fail (then they are named). Raises Unfit, OSError, DumpProblem.
    """
    with beside(settings.home) as folder:
        plain = envelope.opened(file, key, folder, tell)
        return _restored(settings, plain, tell, upgrade=upgrade, anyway=anyway)


def _restored(settings: Settings, file: Path, tell: Tell, *, upgrade: bool, anyway: bool) -> Restored:
    manifest, url = container.manifest_in(file), settings.database_url
    rules.refuse_misfit(manifest, kind_of(url))
    known = {found.revision for found in ScriptDirectory.from_config(migrations.config()).walk_revisions()}
    rules.refuse_revision(manifest, known, migrations.head(), upgrade=upgrade)
    if manifest.kind == "sqlite":
        wrong = _into_file(settings, file, manifest, tell, anyway=anyway)
    else:
        wrong = _into_server(settings, file, manifest, tell, anyway=anyway)
    return Restored(manifest, migrations.head(), wrong)


def _into_file(
    settings: Settings, file: Path, manifest: Manifest, tell: Tell, *, anyway: bool
) -> Sequence[str]:
    place = sqlite.path_of(settings.database_url)
    for there in (place, *sqlite.beside(place)):
        if there.exists():
            raise Unfit("not-empty", THERE.format(there, place))
    place.parent.mkdir(parents=True, exist_ok=True)
    with beside(place.parent) as folder:
        content = folder / place.name
        with content.open("wb") as target:
            container.unpack(file, target, tell)
        content.chmod(0o600)
        broken = sqlite.faults(content)
        if broken:
            raise Unfit("damaged", f"The database in the backup is not sound: {'; '.join(broken)}.")
        _hold_end(manifest, sqlite.facts(content))
        wrong = _brought(replace(settings, database_url=f"sqlite:///{content}"), anyway=anyway)
        sqlite.folded(content)
        name_for_good(content, place)
    return wrong


def _into_server(
    settings: Settings, file: Path, manifest: Manifest, tell: Tell, *, anyway: bool
) -> Sequence[str]:
    url = settings.database_url
    postgresql.refuse_full(url)
    with tempfile.TemporaryDirectory() as folder:
        content = Path(folder) / rules.CONTENT[manifest.kind]
        with content.open("wb") as target:
            container.unpack(file, target, tell)
        postgresql.fill(url, content)
    try:
        _hold_end(manifest, postgresql.facts(url))
        return _brought(settings, anyway=anyway)
    except BaseException:
        postgresql.emptied(url)
        raise


def _hold_end(manifest: Manifest, facts: tuple[str, int, str]) -> None:
    if facts != (manifest.revision, manifest.entries, manifest.head):
        raise Unfit("damaged", "The journal in the backup does not end where its manifest says.")


def _brought(settings: Settings, *, anyway: bool) -> Sequence[str]:
    """Bring a database to this version, sign everybody out, and prove it; gives what is wrong with it."""
    migrations.upgrade(settings.database_url)
    database = wiring.open_database(settings)
    try:
        with database.writing() as session:
            # Who signed out since the backup was taken must not be signed in again by it.
            session.execute(text("DELETE FROM signed_in"))
        with snapshot(database) as session:
            chain = check_chain(session)
            proofs = prove(session, utc_now())
    finally:
        database.dispose()
    wrong = [f"{proof.name}: {len(proof.wrong)} of {proof.checked}" for proof in proofs if proof.wrong]
    if chain.broken_at is not None:
        wrong.insert(0, f"journal: broken at entry {chain.broken_at}")
    if wrong and not anyway:
        detail = f"What the backup holds is not right ({'; '.join(wrong)}). --anyway keeps it all the same."
        raise Unfit("wrong", detail)
    return wrong
