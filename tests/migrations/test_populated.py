"""R18: every migration, down and up again on a house that was lived in, loses nothing.

What the release before reads and writes on the next schema is checked by its tables: they are reflected at
its revision, and every row of a lived-through house is written by the columns that it knows and read back.
Its program itself is not at hand in a release.
"""

from itertools import pairwise
from pathlib import Path

import pytest
from sqlalchemy import text

from service.core.clock import utc_now
from service.core.db import Database, snapshot
from service.core.ids import new_id
from service.core.migrations import downgrade, upgrade
from service.core.settings import Settings
from service.journal.queries import check_chain
from service.reports.proofs import prove
from service.wiring import open_database
from tests.engines import ENGINES
from tests.house import Templates
from tests.make_house import House
from tests.migrations.populated import Former, connected, look, lost, reshaped, revisions, shape
from tests.promises.large_house import grown
from tests.soak import figure

LOTS, LINES = figure(gate=20, full=10_000), figure(gate=100, full=100_000)
MOVES = figure(gate=2, full=len(revisions()) - 1)  # so many of the newest migrations
FORMER = figure(gate=1, full=len(revisions()) - 1)

# What a release cannot know is taken out on the way down to it, as its migration says; never on the way up.
TAKEN_OUT = {
    "0037": {"photo", "photo_of"},  # papers, and photos that were wrong
    "0016": {"certificate"},  # those of parcels
}
# Migrations over which the release before does not read and write on: stop every process of it first.
NOT_BESIDE = {"0025": "the number and GTIN of a plant are those of its sales items since"}


@pytest.mark.promise(r=18)
@pytest.mark.soak
def test_every_migration_down_and_up_again_loses_nothing(
    full_house: House,
    settings: Settings,
    database: Database,
    templates: Templates,
    database_kind: str,
    tmp_path: Path,
) -> None:
    grown(database, lots=LOTS, lines=LINES)
    ENGINES.dispose()
    url, walked = settings.database_url, revisions()[: MOVES + 1]
    shapes = {}
    with templates.empty(database_kind, f"e{new_id().replace('-', '')}", tmp_path) as empty:
        for revision in reversed(walked):
            upgrade(empty, revision)
            shapes[revision] = shape(empty)
    before = look(url)
    assert reshaped(before.shape, shapes[walked[0]]) == []
    for revision, lower in pairwise(walked):
        downgrade(url, lower)
        down = look(url)
        assert reshaped(down.shape, shapes[lower]) == [], f"down to {lower}"
        assert set(lost(before.held, down.held)) <= TAKEN_OUT.get(revision, set()), f"down to {lower}"
        upgrade(url, revision)
        up = look(url)
        assert reshaped(up.shape, shapes[revision]) == [], f"up to {revision}"
        assert lost(down.held, up.held) == [], f"up to {revision}"
        downgrade(url, lower)
        before = look(url)
        assert lost(down.held, before.held) == [], f"down to {lower} again"
    upgrade(url)
    assert reshaped(shape(url), shapes[walked[0]]) == []
    assert lost(before.held, look(url).held) == []
    assert_sound(settings)


def assert_sound(settings: Settings) -> None:
    """The chain holds, nothing points to nothing, and every proof of the night does."""
    found = open_database(settings)
    with snapshot(found) as session:
        assert check_chain(session).broken_at is None
        assert [proof for proof in prove(session, utc_now()) if proof.wrong] == []
    found.dispose()
    if settings.database_url.startswith("sqlite"):
        with connected(settings.database_url) as connection:
            assert connection.exec_driver_sql("PRAGMA foreign_key_check").all() == []


@pytest.mark.promise(r=18)
def test_a_table_that_is_copied_carelessly_is_seen_to_lose(full_house: House, settings: Settings) -> None:
    ENGINES.dispose()
    url = settings.database_url
    before = look(url)
    with connected(url) as connection:
        connection.execute(text("DELETE FROM animal_test"))
        connection.execute(text("UPDATE tub SET code = code || 'x'"))
        connection.execute(text("CREATE TABLE copied AS SELECT * FROM stock_entry"))
        connection.execute(text("DROP TABLE stock_entry"))
        connection.execute(text("ALTER TABLE copied RENAME TO stock_entry"))
        connection.commit()
    told = " ".join(reshaped(shape(url), before.shape))
    for gone in ("ck_stock_entry_reason", "fk_stock_entry_batch_id", "ix_stock_entry_batch", "trigger"):
        assert gone in told, gone
    assert lost(before.held, look(url).held) == ["animal_test", "tub.code"]


@pytest.mark.promise(r=18)
@pytest.mark.promise(r=19)
@pytest.mark.soak
def test_the_release_before_reads_and_writes_on_the_next_schema(
    full_house: House, settings: Settings, templates: Templates, database_kind: str, tmp_path: Path
) -> None:
    ENGINES.dispose()
    walked, former = revisions()[: FORMER + 1], {}
    for revision, lower in pairwise(walked):
        downgrade(settings.database_url, lower)
        former[revision] = Former.of(settings.database_url)
    with templates.empty(database_kind, f"e{new_id().replace('-', '')}", tmp_path) as empty:
        refused = {}
        for revision in reversed(walked[:-1]):
            upgrade(empty, revision)
            refused[revision] = former[revision].refused_by(empty)
    told = {revision for revision, problem in refused.items() if problem is not None}
    assert told == set(NOT_BESIDE) & set(refused), refused
