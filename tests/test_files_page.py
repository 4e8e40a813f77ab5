"""The page of the files is true: its tables name every column, its examples are taken."""

import re
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from service.archive.rules import FORMAT, KEYS, MANIFEST, READ_ME, VERSION, Kind
from service.catalogue.plant_files import PLANTS
from service.core.clock import utc_now
from service.core.csv_tables import Table
from service.intake.shipment_files import SHIPMENTS
from service.stores.receipt_files import RECEIPTS
from tests.api import Api

TEXT = (Path(__file__).parents[1] / "docs" / "files.md").read_text("utf-8")
EXAMPLES = re.findall(r"^`POST (\S+)`[^\n]*\n\n```csv\n(.*?)^```", TEXT, re.DOTALL | re.MULTILINE)
ROW = re.compile(r"^\| `POST /api/v1(\S+)` \| (\d+) \| (.*?) \| (.*?) \|$", re.MULTILINE)
ROWS = {address: (int(most), needed, others) for address, most, needed, others in ROW.findall(TEXT)}


def words(text: str) -> set[str]:
    return set(re.findall(r"`(\w+)`", text))


@pytest.mark.parametrize(
    ("address", "table"),
    [("/stock-receipts", RECEIPTS), ("/plants/import", PLANTS), ("/shipments/import", SHIPMENTS)],
)
def test_the_table_of_the_page_has_every_column_and_bound(address: str, table: Table) -> None:
    most, needed, others = ROWS[address]
    assert most == table.most_rows
    assert words(needed) == set(table.required)
    assert words(needed) | words(others) == set(table.places)


@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
@pytest.mark.parametrize(("address", "content"), EXAMPLES, ids=[path for path, _ in EXAMPLES])
def test_the_example_is_looked_at_and_taken(api: Api, address: str, content: str) -> None:
    api.owner.made("/suppliers", {"name": "Fenmarsh Growers", "country": "NL"})
    volume = {"value": 40, "unit": "L"}
    tub = api.owner.made("/tubs", {"code": "T1", "volume": volume})["id"]
    # Only the day may differ: what is kept late has a limit.
    content = content.replace("2026-03-02", (utc_now() - timedelta(days=1)).date().isoformat())
    path, _, query = address.replace("{id}", tub).partition("?")
    query = f"?{query}" if query else ""
    rows = len(content.splitlines()) - 1
    looked = sent(api, f"{path}/preview{query}", content)
    assert looked.status_code == 200, looked.get_json()
    assert not looked.get_json()["problems"]
    taken = sent(api, f"{path}{query}", content)
    assert taken.status_code == 201, taken.get_json()
    assert len(kept(api, path, tub)) == rows, address


def sent(api: Api, path: str, content: str) -> Any:
    return api.owner.send("POST", path, raw=content.encode(), headers={"Content-Type": "text/csv"})


def kept(api: Api, path: str, tub: str) -> list[Any]:
    """What came of the example: batches, plants of the house, lots, readings."""
    if path.startswith("/tubs/"):
        return list(api.owner.seen(f"/tubs/{tub}/temperatures")["items"])
    if path == "/plants/import":
        plants = api.owner.seen("/plants?limit=200")["items"]
        return [plant for plant in plants if plant["code"].startswith("house-")]
    return list(api.owner.seen("/lots" if path == "/shipments/import" else "/stock-batches")["items"])


def test_there_is_an_example_for_every_address_that_takes_a_file() -> None:
    assert {address.partition("?")[0] for address, _ in EXAMPLES} == set(ROWS)


def test_the_words_of_an_archive_are_those_of_the_page() -> None:
    for word in (FORMAT, MANIFEST, KEYS, READ_ME, "tables/{name}.ndjson"):
        assert f"`{word}`" in TEXT
    assert re.search(rf"`version` \({VERSION}\b", TEXT)
    [kinds] = re.findall(r"Kinds: (.*?) \|", TEXT)
    assert words(kinds) == {kind.value for kind in Kind}
