"""A logger's file: RFC 4180 with the marks that were declared, and nothing guessed about numbers."""

from datetime import UTC, datetime

import pytest

from service.core.errors import Invalid
from service.tubs.logs import DecimalMark, read_log, typed
from service.tubs.rules import MOST_READINGS

AT = "2026-03-02T09:00:00Z"


def pointers(content: bytes, decimal_mark: DecimalMark = ".") -> list[str | None]:
    with pytest.raises(Invalid) as refusal:
        read_log(content, decimal_mark=decimal_mark, delimiter=None)
    return [reason.pointer for reason in refusal.value.reasons]


@pytest.mark.parametrize(
    ("lines", "mark"),
    [
        (["at,value,unit", f"{AT},69.98,[degF]"], "."),
        (["AT;Value", f"{AT};21,1"], ","),
        (["at\tvalue", f"{AT}\t21.1"], "."),
        (["at,value", "", f'{AT},"21,1"', ""], ","),
    ],
)
def test_delimiter_and_decimal_mark_are_the_files_own(lines: list[str], mark: DecimalMark) -> None:
    [found] = read_log("\r\n".join(lines).encode(), decimal_mark=mark, delimiter=None)
    assert found.at == datetime(2026, 3, 2, 9, tzinfo=UTC)
    assert found.celsius == pytest.approx(21.1)  # (69.98 - 32) / 1.8


def test_a_delimiter_can_be_named() -> None:
    [found] = read_log(f"at|value\n{AT}|21".encode(), decimal_mark=".", delimiter="|")
    assert (found.value, found.unit, found.at_pointer) == (21, "Cel", "#/lines/2")


def test_every_wrong_line_is_named_as_an_editor_counts_them() -> None:
    lines = ["at,value", f"{AT},21", f"{AT},1e1", "", f"{AT},warm", f"{AT},21,Cel"]
    assert pointers("\n".join(lines).encode()) == ["#/lines/3", "#/lines/5", "#/lines/6"]


def test_a_number_is_written_with_the_declared_mark() -> None:
    assert pointers(f'at,value\n{AT},"21,1"'.encode()) == ["#/lines/2"]
    assert pointers(f"at,value\n{AT},21.1".encode(), ",") == ["#/lines/2"]
    assert pointers(f"at,value\n{AT},\N{ARABIC-INDIC DIGIT TWO}1".encode()) == ["#/lines/2"]


@pytest.mark.parametrize(
    "content",
    [
        "at,value\n".encode("utf-16"),
        f"at,value\n{AT},21\0".encode(),
        f"at,value\n{AT},\N{RIGHT-TO-LEFT OVERRIDE}21".encode(),
    ],
)
def test_other_texts_than_plain_utf_8_are_refused(content: bytes) -> None:
    assert pointers(content) == ["#"]


def test_a_file_has_a_header_readings_and_an_end() -> None:
    assert pointers(b"") == ["#/lines/1"]
    assert pointers(b"at,value\n") == ["#/lines/1"]
    assert pointers(f'at,value\n{AT},"21'.encode()) == ["#/lines/2"]
    assert pointers(f"at,value\n{AT},{'2' * 2001}".encode()) == ["#/lines/2"]
    rows = "\n".join(["at,value", *[f"{AT},21"] * (MOST_READINGS + 1)])
    assert pointers(rows.encode()) == [f"#/lines/{MOST_READINGS + 2}"]


def test_a_reading_in_json_stands_where_it_was_written() -> None:
    found = typed(datetime(2026, 3, 2, 9, tzinfo=UTC), 70, "[degF]", "#/readings/3")
    assert found.celsius == pytest.approx(21.111)  # (70 - 32) / 1.8, to a thousandth
    assert (found.at_pointer, found.value_pointer) == ("#/readings/3/at", "#/readings/3/value")
