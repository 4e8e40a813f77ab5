"""Rows of a CSV file (RFC 4180) that a client sends, each with the line it starts on."""

import csv
import io
import unicodedata
from collections.abc import Iterator, Sequence

from service.core.errors import Invalid

LONGEST_FIELD = 2_000


def rows(content: bytes, delimiter: str) -> Iterator[tuple[int, list[str]]]:
    """The rows of a file in its order, empty ones left out.

    Raises Invalid pointing at the line that is none ("#/lines/4"). Lines are counted as an editor does, from
    1, and a quoted field may span several. UTF-8 with or without a mark; control and invisible characters are
    refused, and fields of more than 2,000 characters.
    """
    return _parsed(_text(content), delimiter)


def _text(content: bytes) -> str:
    try:
        found = content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise Invalid.at("#", "The file is not UTF-8 text. Save it as CSV in UTF-8.") from problem
    if any(unicodedata.category(c) in {"Cc", "Cf"} and c not in "\r\n\t" for c in found):
        raise Invalid.at("#", "The file holds control or invisible characters.")
    return found


def header(row: Sequence[str]) -> list[str]:
    """The names of the columns, whatever their case and the spaces around them."""
    return [unicodedata.normalize("NFKC", name).strip().casefold() for name in row]


def _parsed(content: str, delimiter: str) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(content, newline=""), delimiter=delimiter, strict=True)
    line = 0
    try:
        for row in reader:
            line, started = reader.line_num, line + 1
            if any(len(field) > LONGEST_FIELD for field in row):
                raise Invalid.at(f"#/lines/{started}", f"A field holds at most {LONGEST_FIELD} characters.")
            if any(field.strip() for field in row):
                yield started, row
    except csv.Error as problem:
        raise Invalid.at(f"#/lines/{line + 1}", f"This line cannot be read: {problem}.") from problem
