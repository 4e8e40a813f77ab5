"""R17: every backup taken while people write is one moment of the house; a plain copy of its file is none."""

import shutil
import sqlite3
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select, text

from service.backups import sqlite
from service.core.clock import utc_now
from service.core.db import Database, snapshot
from service.core.ids import new_id
from service.core.settings import Settings
from service.journal.queries import check_chain
from service.reports.proofs import prove
from service.stores.models import StockBatch
from service.wiring import open_database
from tests.backups.running import done, run_in
from tests.house import Templates, settings_for
from tests.journeys.bench import Bench
from tests.make_house import House
from tests.promises.large_house import grown
from tests.soak import figure

BACKUPS, WRITERS = figure(gate=2, full=25), 2
LINES, LOTS = figure(gate=500, full=100_000), figure(gate=100, full=10_000)
DRILL_S = 300  # the whole drill, so that a house is back at work before its tubs need somebody

# What one act writes together: were it torn, one would be there without the other.
PAIRS = {
    "receipts": ("journal_entry WHERE kind = 'stock.batch_received'", "stock_entry WHERE reason = 'receipt'"),
    "batches": ("journal_entry WHERE kind = 'stock.batch_received'", "stock_batch"),
    "lots": (
        "journal_entry WHERE kind = 'lot.received'",
        "lot WHERE parent_lot_id IS NULL AND returned_from_id IS NULL",
    ),
}
WRONG_BALANCES = text(
    "SELECT count(*) FROM stock_batch WHERE balance <>"
    " (SELECT coalesce(sum(amount), 0) FROM stock_entry WHERE batch_id = stock_batch.id)"
)
JOURNAL = text("SELECT seq, hash FROM journal_entry ORDER BY seq")


@dataclass
class Writing:
    """People who write one act after the other, and what was acknowledged to them."""

    bench: Bench
    batches: list[str] = field(default_factory=list)
    failed: list[BaseException] = field(default_factory=list)

    def act(self) -> None:
        """A batch is received and some of it spilt; a lot is received and some of it lost."""
        grower = self.bench.api.grower
        batch = self.bench.batch("potassium-alum", 1, "kg", batch_number=new_id())["id"]
        self.batches.append(batch)
        spilt = {"batch_id": batch, "quantity": {"value": 5, "unit": "g"}, "way": "spilled"}
        grower.made("/stock-disposals", {**spilt, "reason": "the bag tore"})
        lot = self.bench.lot("anubias-barteri", 20, day=49)["id"]
        grower.made(f"/lots/{lot}/losses", {"quantity": 1, "cause": "melt"})

    @contextmanager
    def on(self) -> Iterator[None]:
        """They write for as long as this lasts; a failure of any of them is a failure of the test."""
        ended = threading.Event()
        people = [threading.Thread(target=self._on_and_on, args=(ended,)) for _ in range(WRITERS)]
        for person in people:
            person.start()
        try:
            yield
        finally:
            ended.set()
            for person in people:
                person.join()
        assert self.failed == []

    def _on_and_on(self, ended: threading.Event) -> None:
        try:
            while not ended.is_set():
                self.act()
        except BaseException as problem:  # noqa: BLE001  # told by the thread of the test
            self.failed.append(problem)

    def several_more(self) -> None:
        """Wait until both have done something since."""
        wanted, latest = len(self.batches) + 2 * WRITERS, time.monotonic() + 60
        while len(self.batches) < wanted and not self.failed and time.monotonic() < latest:
            time.sleep(0.01)
        assert len(self.batches) >= wanted, self.failed


def journal_of(database: Database) -> list[Any]:
    with database.reading() as session:
        return [tuple(row) for row in session.execute(JOURNAL)]


def is_one_moment_of(place: Settings, journal: Sequence[Any], acknowledged: Sequence[str]) -> int:
    """Hold a house that was put back against the journal it went on with; gives its number of entries."""
    found = open_database(place)
    try:
        own = journal_of(found)
        assert own == list(journal[: len(own)])
        with snapshot(found) as session:
            assert check_chain(session).broken_at is None
            assert [proof.name for proof in prove(session, utc_now()) if proof.wrong] == []
            for name, tables in PAIRS.items():
                one, other = (session.scalar(text(f"SELECT count(*) FROM {table}")) for table in tables)  # noqa: S608  # names above
                assert one == other, name
            assert session.scalar(WRONG_BALANCES) == 0
            there = set(session.scalars(select(StockBatch.id)))
        assert set(acknowledged) <= there
    finally:
        found.dispose()
    return len(own)


@contextmanager
def a_place(templates: Templates, kind: str, folder: Path) -> Iterator[Settings]:
    """An empty place of that kind in a new folder, gone afterwards."""
    folder.mkdir()
    with templates.empty(kind, f"r{new_id().replace('-', '')}", folder) as url:
        yield settings_for(url, folder)
    shutil.rmtree(folder)


@pytest.mark.promise(r=17)
@pytest.mark.soak
def test_every_backup_taken_while_people_write_is_one_moment_of_the_house(
    busy_house: House,
    settings: Settings,
    database: Database,
    templates: Templates,
    database_kind: str,
    key: Path,
    tmp_path: Path,
) -> None:
    writing = Writing(busy_house.bench)
    taken = []
    with writing.on():
        for n in range(BACKUPS):
            writing.several_more()
            before = list(writing.batches)
            file = tmp_path / f"{n}.backup"
            done(run_in(settings)("db", "backup", file, "--json"))
            taken.append((file, before))
        writing.several_more()
    journal = journal_of(database)
    lengths = []
    for file, acknowledged in taken:
        with a_place(templates, database_kind, tmp_path / "put-back") as place:
            said = done(run_in(place)("db", "restore", file, "--key", key, "--json"))
            assert said["wrong"] == []
            lengths.append(is_one_moment_of(place, journal, acknowledged))
    assert lengths == sorted(set(lengths))  # each of a later moment, none of the end
    assert lengths[-1] < len(journal)


@pytest.mark.promise(r=17)
@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_a_plain_copy_of_the_file_misses_what_was_acknowledged(
    bench: Bench, settings: Settings, tmp_path: Path
) -> None:
    writing = Writing(bench)
    file, missed = sqlite.path_of(settings.database_url), False
    with writing.on():
        for n in range(15):
            writing.several_more()
            acknowledged, copy = set(writing.batches), tmp_path / f"careless-{n}.sqlite3"
            shutil.copyfile(file, copy)
            missed = missed or not acknowledged <= batches_in(copy)
            if missed:
                break
    assert missed


def batches_in(file: Path) -> set[str]:
    """The batches in a file, none when it cannot be read."""
    try:
        with sqlite3.connect(file) as opened:
            return {row[0] for row in opened.execute("SELECT id FROM stock_batch")}
    except sqlite3.Error:
        return set()


@pytest.mark.promise(r=17)
@pytest.mark.soak
def test_a_large_house_is_put_back_and_proved_in_minutes(
    busy_house: House,
    settings: Settings,
    database: Database,
    templates: Templates,
    database_kind: str,
    key: Path,
    tmp_path: Path,
) -> None:
    grown(database, lots=LOTS, lines=LINES)
    done(run_in(settings)("db", "backup", tmp_path / "large.backup", "--json"))
    with a_place(templates, database_kind, tmp_path / "put-back") as place:
        begun = time.monotonic()
        said = done(run_in(place)("db", "restore", tmp_path / "large.backup", "--key", key, "--json"))
        lasted = time.monotonic() - begun
        assert said["wrong"] == []
        journal = journal_of(database)
        assert is_one_moment_of(place, journal, ()) == len(journal) > LINES + LOTS
        found = Database(place.database_url)
        with found.reading() as session:
            assert session.scalar(text("SELECT count(*) FROM stock_entry")) >= LINES
        found.dispose()
    told = f"{LINES} ledger lines put back and proved in {lasted:.0f} s on {database_kind}"
    print(told)  # noqa: T201  # a figure for who asked for the soak
    assert lasted < DRILL_S
