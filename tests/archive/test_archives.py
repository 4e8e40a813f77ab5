"""A house in one file is the same house in an empty one; anything else is refused."""

import hashlib
import json
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from service.archive import writing
from service.archive.rules import LEFT_OUT, VERSION
from service.core.clock import utc_now
from service.core.db import Database, snapshot
from service.core.ids import new_id
from service.core.migrations import head, upgrade
from service.core.settings import Settings
from service.wiring import open_database
from tests.api import Api
from tests.archive.running import exported, quiet, rewritten, run_in, told
from tests.house import Templates, settings_for
from tests.make_house import House
from tests.make_inspections import look_body
from tests.make_lots import received_lot
from tests.make_photos import kept
from tests.make_sales import named
from tests.unchanged import contents

NOW = utc_now()


def rows(database: Database) -> dict[str, list[Any]]:
    return {name: found for name, found in contents(database).items() if name not in LEFT_OUT}


@pytest.fixture(params=["sqlite", "postgresql"])
def other(request: pytest.FixtureRequest, templates: Templates, tmp_path: Path) -> Iterator[Settings]:
    """An empty house of either kind."""
    home = tmp_path / "other"
    home.mkdir()
    with templates.empty(request.param, f"o{new_id().replace('-', '')}", home) as url:
        yield settings_for(url, home)


@pytest.mark.promise(r=30)
def test_a_house_read_back_is_the_same_house(
    api: Api, busy_house: House, database: Database, settings: Settings, other: Settings, tmp_path: Path
) -> None:
    named(busy_house.bench, "AN-P", gtin="6291041500213")
    api.owner.made("/webhooks", {"name": "the shop", "url": "https://shop.example/events"})
    serial = busy_house.bench.see(busy_house.cleared)["certificate_serial"]
    paper = api.auditor.get(f"/certificates/{serial}.pdf").get_data()
    photo = kept(api)
    named_in: dict[str, Any] = {
        "lot_id": busy_house.waiting,
        "sample_size": 1,
        "photos": [{"sha256": photo["sha256"]}],
    }
    api.grower.made("/inspections", look_body(**named_in))
    told = exported(settings, tmp_path / "house.zip")
    assert told["photos"] == 1
    done = run_in(other)("import", tmp_path / "house.zip", "--json")
    assert done.exit_code == 0, done.output
    read = json.loads(done.stdout)
    assert {**read, "file": ""} == {**told, "file": ""}
    assert run_in(other)("journal", "check").output.split()[-1] == told["journal"]["head"]
    assert run_in(other)("check").exit_code == 0
    found = open_database(other)
    assert rows(found) == rows(database)
    exported(other, tmp_path / "again.zip")
    with zipfile.ZipFile(tmp_path / "house.zip") as one, zipfile.ZipFile(tmp_path / "again.zip") as two:
        for name in set(one.namelist()) - {"manifest.json", "keys.json", "tables/token.ndjson"}:
            assert one.read(name) == two.read(name), name
    api.app.extensions["dipledger.settings"] = other
    api.app.extensions["dipledger.database"] = found
    assert api.nobody.get(f"/c/{serial}", Accept="application/json").get_json()["status"] == "valid"
    assert api.auditor.get(f"/certificates/{serial}.pdf").get_data() == paper
    shown = api.auditor.get(f"/photos/{photo['sha256']}").get_data()
    assert hashlib.sha256(shown).hexdigest() == photo["sha256"]
    (tmp_path / "statement.pdf").write_bytes(paper)
    assert run_in(other)("verify", tmp_path / "statement.pdf").exit_code == 0
    received_lot(api)  # and work goes on
    assert run_in(other)("journal", "check").exit_code == 0
    found.dispose()


def signed(parts: dict[str, bytes], table: str, content: bytes) -> None:
    """A table with other rows, and a manifest that says so."""
    parts[f"tables/{table}.ndjson"] = content
    manifest = json.loads(parts["manifest.json"])
    for part in manifest["tables"]:
        if part["name"] == table:
            part["sha256"], part["rows"] = hashlib.sha256(content).hexdigest(), content.count(b"\n")
    parts["manifest.json"] = json.dumps(manifest).encode()


JOURNAL, LOTS = "tables/journal_entry.ndjson", "tables/lot.ndjson"
ALTERED: dict[str, tuple[Callable[[dict[str, bytes]], object], str]] = {
    "a row is another": (lambda p: p.update({LOTS: p[LOTS].replace(b'"left":40', b'"left":41')}), "altered"),
    "a row is gone": (lambda p: p.update({LOTS: b""}), "altered"),
    "a file is gone": (lambda p: p.pop(LOTS), "altered"),
    "a file is more": (lambda p: p.update({"tables/more.ndjson": b""}), "altered"),
    "other keys": (lambda p: p.update({"keys.json": b'{"keys":[],"withdrawn":[]}'}), "altered"),
    "no manifest": (lambda p: p.pop("manifest.json"), "no-archive"),
    "history retold": (
        lambda p: signed(p, "journal_entry", p[JOURNAL].replace(b'"received":40', b'"received":39')),
        "altered",
    ),
    "history cut": (
        lambda p: signed(p, "journal_entry", b"".join(p[JOURNAL].splitlines(keepends=True)[:-1])),
        "altered",
    ),
    "a lot of nobody": (lambda p: signed(p, "supplier", b""), "altered"),
    "a row is none": (lambda p: signed(p, "supplier", b"[]\n"), "altered"),
    "a column is unknown": (lambda p: signed(p, "supplier", b'{"colour":"red"}\n'), "altered"),
    "quantities do not add up": (
        lambda p: signed(p, "lot", p[LOTS].replace(b'"left":40', b'"left":41')),
        "altered",
    ),
    "a later version": (lambda p: told(p, version=VERSION + 1), "newer"),
    "a later database": (lambda p: told(p, revision="9999"), "newer"),
}


@pytest.mark.parametrize("name", ALTERED)
@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_what_is_not_as_it_was_written_is_refused_and_nothing_is_kept(
    api: Api, settings: Settings, empty: Settings, tmp_path: Path, name: str
) -> None:
    change, code = ALTERED[name]
    received_lot(api)
    exported(settings, tmp_path / "house.zip")
    done = run_in(empty)("import", rewritten(tmp_path / "house.zip", change), "--json")
    assert (done.exit_code, json.loads(done.stdout)["code"]) == (1, code), done.output
    good = run_in(empty)("import", tmp_path / "house.zip")
    assert good.exit_code == 0, good.output


@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_a_damaged_or_foreign_file_is_refused(settings: Settings, empty: Settings, tmp_path: Path) -> None:
    exported(settings, tmp_path / "house.zip")
    whole = (tmp_path / "house.zip").read_bytes()
    middle = len(whole) // 2
    for n, content in enumerate(
        [b"", b"no zip", whole[:middle], whole[:middle] + bytes(64) + whole[middle + 64 :]]
    ):
        file = tmp_path / f"bad-{n}.zip"
        file.write_bytes(content)
        done = run_in(empty)("import", file)
        assert done.exit_code == 1, (n, done.output)
        assert "Error:" in done.stderr


def test_a_house_in_which_something_happened_takes_no_archive(
    database: Database, settings: Settings, tmp_path: Path
) -> None:
    exported(settings, tmp_path / "house.zip")
    before = rows(database)
    done = run_in(settings)("import", tmp_path / "house.zip", "--json")
    assert (done.exit_code, json.loads(done.stdout)["code"]) == (3, "not-empty")
    assert rows(database) == before


@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_a_file_that_is_there_is_not_written_over(settings: Settings, tmp_path: Path) -> None:
    file = tmp_path / "house.zip"
    file.write_text("mine")
    done = run_in(settings)("export", file)
    assert (done.exit_code, file.read_text()) == (1, "mine")
    assert list(tmp_path.glob("*.part")) == []
    exported(settings, tmp_path / "new.zip")
    assert (tmp_path / "new.zip").stat().st_mode & 0o777 == 0o600


def test_an_older_archive_comes_to_the_revision_of_today(
    empty: Settings, templates: Templates, database_kind: str, tmp_path: Path
) -> None:
    with templates.empty(database_kind, f"e{new_id().replace('-', '')}", tmp_path) as url:
        upgrade(url, "0022")
        old = Database(url)
        with old.writing() as session:
            session.execute(
                text(
                    "INSERT INTO plant (id, code, scientific_name, trade_names, synonyms, growth_form,"
                    " look_class, restricted, sku, created_at, version) VALUES (:id, 'a', 'A', '[]', '[]',"
                    " 'moss', 'moss_fine', '[]', 'OLD-1', '2026-03-02 09:00:00+00:00', 1)"
                ),
                {"id": new_id()},
            )
        with snapshot(old) as session:
            origin = writing.Origin("", {"keys": [], "withdrawn": []}, NOW)
            writing.write(session, tmp_path / "old.zip", origin, quiet)
        old.dispose()
    done = run_in(empty)("import", tmp_path / "old.zip")
    assert done.exit_code == 0, done.output
    found = Database(empty.database_url)
    with found.reading() as session:
        assert session.scalar(text("SELECT version_num FROM alembic_version")) == head()
        assert session.scalar(text("SELECT sku FROM sales_item")) == "OLD-1"
    found.dispose()
