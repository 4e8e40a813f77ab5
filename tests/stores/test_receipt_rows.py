"""Rows of a file of deliveries: read back as written, received as previewed, whatever they say."""

import csv
import io
from collections.abc import Mapping, Sequence
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.core.csv_tables import ANSWERS
from service.core.ids import new_id
from service.stores.receipt_files import PLACES, RECEIPTS, REQUIRED
from tests.api import Api

WORDS = st.text(st.characters(exclude_categories=["C", "Z"]), min_size=1, max_size=20)
SENTENCES = st.lists(WORDS | st.sampled_from([",", '"', ";", "'", "=1+1", "a\nb"]), min_size=1).map(" ".join)
FIGURES = st.decimals(0, 10**6, places=3).map(lambda number: f"{number:f}")
YES_OR_NO = st.sampled_from(sorted(ANSWERS))
CELLS = {
    name: FIGURES if name in RECEIPTS.numbers else YES_OR_NO if name == "confirm_duplicate" else SENTENCES
    for name in PLACES
}
TABLES = st.permutations(list(PLACES)).flatmap(
    lambda names: st.tuples(
        st.just(names),
        st.lists(
            st.tuples(*(CELLS[n] if n in REQUIRED else CELLS[n] | st.just("") for n in names)),
            min_size=1,
            max_size=3,
        ),
    )
)


def written(names: Sequence[str], rows: Sequence[Sequence[str]], ending: str) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator=ending)
    writer.writerow(names)
    writer.writerows(rows)
    return text.getvalue()


def found_at(body: Mapping[str, Any], place: Sequence[str]) -> Any:
    inner: Any = body
    for name in place:
        inner = inner.get(name, {})
    return inner


@settings(max_examples=40)
@given(TABLES, st.sampled_from(["\n", "\r\n"]), st.booleans())
def test_what_a_spreadsheet_wrote_is_read_back(
    table: tuple[Sequence[str], Sequence[Sequence[str]]], ending: str, mark: bool
) -> None:
    names, rows = table
    content = written(names, rows, ending).encode("utf-8-sig" if mark else "utf-8")
    found = RECEIPTS.rows(content)
    assert [row.wrong for row in found] == [None] * len(rows)
    for row, cells in zip(found, rows, strict=True):
        for name, cell in zip(names, cells, strict=True):
            value = found_at(row.body, PLACES[name])
            expected: Any = cell
            if name in RECEIPTS.numbers:
                expected = float(cell) if cell else cell
            if name == "confirm_duplicate":
                expected = ANSWERS.get(cell, cell)
            assert value == (expected if cell else {})
    starts = [written(names, rows[:n], ending).count("\n") + 1 for n in range(len(rows))]
    assert [row.line for row in found] == starts


@given(st.sampled_from(sorted(PLACES)))
def test_a_pointer_into_a_receipt_is_one_into_its_row(column: str) -> None:
    content = written(REQUIRED, [["copper-stock", "1", "1", "L"]], "\n").encode()
    [row] = RECEIPTS.rows(content)
    assert row.pointer("#/" + "/".join(PLACES[column])) == f"#/lines/2/{column}"


GOOD = {"material": "copper-stock", "quantity": "1", "unit": "L"}
NUMBERS_AND_UNITS = ["1", "0", "-1", "1e5", "NaN", "L", "kg", "mL", "[drp]", "naocl_ww", "g/L", "EUR"]
ODD = [*NUMBERS_AND_UNITS, "", "true", "2026-11-01", "9999-12-31T23:59:59Z", "bleach", "x" * 81]
CELL = st.sampled_from(ODD) | st.text(max_size=5)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from([name for name in PLACES if name not in REQUIRED]), st.booleans(), st.data())
def test_what_a_preview_finds_good_is_received_and_nothing_else(
    api: Api, more: str, odd: bool, data: st.DataObject
) -> None:
    names = [*REQUIRED, more]
    rows = [[{**GOOD, "batch_number": new_id()}.get(name, "") for name in names] for _ in range(3)]
    if odd:
        data.draw(st.sampled_from(rows))[data.draw(st.integers(0, len(names) - 1))] = data.draw(CELL)
    content = written(names, rows, "\n").encode()
    previewed, received = (
        api.grower.send("POST", path, raw=content, headers={"Content-Type": "text/csv"})
        for path in ("/stock-receipts/preview", "/stock-receipts")
    )
    good = previewed.status_code == 200 and previewed.get_json()["ok"]
    assert good or odd
    assert received.status_code in ({201} if good else {409, 422}), received.get_json()
