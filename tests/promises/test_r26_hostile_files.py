"""R26: whatever bytes a file has, its rows are read, or it is refused by a line of it."""

import csv
import io
import math
import re
from collections.abc import Callable
from typing import TypeVar

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.csv_files import LONGEST_FIELD, rows
from service.core.errors import Invalid
from service.tubs.logs import read_log
from tests.soak import figure

Answer = TypeVar("Answer")
TRIES = figure(gate=150, full=100_000)
POINTER = re.compile(r"#(/lines/(\d+).*)?")
TEXT = st.text(st.sampled_from('ab,;\t"\r\n 1.\u200b\ufeff\x00é='), max_size=60).map(str.encode)
# Numbers as Python would read them, or as spreadsheets and other scripts write them.
ODD = ("1_000", "１２", "١٢", "nan", "sNaN", "inf", "-inf", "1e400", "0x10", "1,5", "--1", "+-2", "", "=1+1")
CELLS = st.sampled_from([*ODD, "21", "21.5", "-3", " 20 ", '"21"', '"21', "9" * 400])


def told(read: Callable[[], Answer]) -> Answer | Invalid:
    """What reading gave, or its refusal; any other exception is none."""
    try:
        return read()
    except Invalid as refusal:
        return refusal


def refused_by_its_lines(refusal: Invalid, content: bytes) -> bool:
    """Whether each reason points at the file or at a line that an editor would show."""
    lines = content.count(b"\n") + content.count(b"\r") + 2
    found = [POINTER.fullmatch(reason.pointer or "") for reason in refusal.reasons]
    return bool(found) and all(at and int(at[2] or 1) <= lines for at in found)


@pytest.mark.promise(r=26)
@pytest.mark.soak
@settings(max_examples=TRIES)
@given(st.one_of(st.binary(max_size=200), TEXT), st.sampled_from(",;\t"))
def test_any_bytes_are_rows_or_a_refusal(content: bytes, delimiter: str) -> None:
    found = told(lambda: list(rows(content, delimiter)))
    if isinstance(found, Invalid):
        assert refused_by_its_lines(found, content)
        return
    assert all(len(field) <= LONGEST_FIELD for _, row in found for field in row)
    assert [line for line, _ in found] == sorted({line for line, _ in found})


@pytest.mark.promise(r=26)
@pytest.mark.soak
@settings(max_examples=TRIES)
@given(st.lists(CELLS, min_size=1, max_size=5))
def test_a_log_of_odd_numbers_is_read_whole_or_refused_whole(cells: list[str]) -> None:
    content = "\n".join(["at,value", *(f"2026-03-02T09:0{n}:00Z,{cell}" for n, cell in enumerate(cells))])
    found = told(lambda: read_log(content.encode(), decimal_mark=".", delimiter=","))
    if isinstance(found, Invalid):
        assert refused_by_its_lines(found, content.encode())
        return
    assert len(found) == len(cells)
    assert all(math.isfinite(reading.celsius) for reading in found)


@pytest.mark.promise(r=26)
@pytest.mark.parametrize("odd", ODD)
def test_a_number_that_is_none_is_refused(odd: str) -> None:
    with pytest.raises(Invalid):
        read_log(f"at,value\n2026-03-02T09:00:00Z,{odd}".encode(), decimal_mark=".", delimiter=",")


@pytest.mark.promise(r=26)
def test_the_library_by_itself_would_swallow_a_thousand_rows_and_take_such_numbers() -> None:
    content = 'code,note\n1,"not closed\n' + "2,plain\n" * 1000
    assert len(list(csv.reader(io.StringIO(content)))) == 2
    with pytest.raises(Invalid):
        list(rows(content.encode(), ","))
    assert [float(odd) for odd in ("1_000", "１２", "١٢")] == [1000, 12, 12]
