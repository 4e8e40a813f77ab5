"""Rows of a file of deliveries read back what a spreadsheet wrote."""

import csv
import io
from collections.abc import Mapping, Sequence
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from service.stores.receipt_files import ANSWERS, NUMBERS, PLACES, REQUIRED, read_receipts

WORDS = st.text(st.characters(exclude_categories=["C", "Z"]), min_size=1, max_size=20)
SENTENCES = st.lists(WORDS | st.sampled_from([",", '"', ";", "'", "=1+1", "a\nb"]), min_size=1).map(" ".join)
FIGURES = st.decimals(0, 10**6, places=3).map(lambda number: f"{number:f}")
YES_OR_NO = st.sampled_from(sorted(ANSWERS))
CELLS = {
    name: FIGURES if name in NUMBERS else YES_OR_NO if name == "confirm_duplicate" else SENTENCES
    for name in PLACES
}
TABLES = st.permutations(list(PLACES)).flatmap(
    lambda names: st.tuples(
        st.just(names),
        st.lists(
            st.tuples(*(CELLS[n] if n in REQUIRED else CELLS[n] | st.just("") for n in names)),
            min_size=1,
            max_size=5,
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


@given(TABLES, st.sampled_from(["\n", "\r\n"]), st.booleans())
def test_what_a_spreadsheet_wrote_is_read_back(
    table: tuple[Sequence[str], Sequence[Sequence[str]]], ending: str, mark: bool
) -> None:
    names, rows = table
    content = written(names, rows, ending).encode("utf-8-sig" if mark else "utf-8")
    found = read_receipts(content)
    assert [row.wrong for row in found] == [None] * len(rows)
    for row, cells in zip(found, rows, strict=True):
        for name, cell in zip(names, cells, strict=True):
            value = found_at(row.body, PLACES[name])
            expected: Any = cell
            if name in NUMBERS:
                expected = float(cell) if cell else cell
            if name == "confirm_duplicate":
                expected = ANSWERS.get(cell, cell)
            assert value == (expected if cell else {})
    starts = [written(names, rows[:n], ending).count("\n") + 1 for n in range(len(rows))]
    assert [row.line for row in found] == starts


@given(st.sampled_from(sorted(PLACES)))
def test_a_pointer_into_a_receipt_is_one_into_its_row(column: str) -> None:
    content = written(REQUIRED, [["copper-stock", "1", "1", "L"]], "\n").encode()
    [row] = read_receipts(content)
    assert row.pointer("#/" + "/".join(PLACES[column])) == f"#/lines/2/{column}"
