"""Files of rows: CSV whose columns say where their text stands in the body of one row."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from service.core import csv_files
from service.core.errors import Invalid
from service.core.fields import DECIMAL

ANSWERS = {"true": True, "false": False}
BETWEEN = ";"  # what separates the texts of a field that holds several


@dataclass(frozen=True)
class Row:
    """One row: the line it starts on, and what it says as a body."""

    line: int
    body: Mapping[str, Any]
    columns: Mapping[tuple[str, ...], str] = field(default_factory=dict)  # column by place in the body
    wrong: str | None = None  # why it is no row at all

    def pointer(self, inside: str | None) -> str:
        """Where in the file a pointer into the body ("#/quantity/unit") is: "#/lines/4/unit"."""
        place = tuple((inside or "#")[2:].split("/"))
        column = self.columns.get(place, place[0])
        return f"#/lines/{self.line}/{column}" if column else f"#/lines/{self.line}"


@dataclass(frozen=True)
class Table:
    """What a file may hold: its columns, those that must be there, and how many rows at most.

    `what` is the word for one row. Columns of `numbers` and `whole` hold numbers, those of `answers` true
    or false, those of `several` texts with semicolons between; any other holds a text.
    """

    what: tuple[str, str]  # one, several
    places: Mapping[str, tuple[str, ...]]
    required: Sequence[str]
    most_rows: int
    numbers: frozenset[str] = frozenset()
    whole: frozenset[str] = frozenset()
    answers: frozenset[str] = frozenset()
    several: frozenset[str] = frozenset()

    def rows(self, content: bytes) -> list[Row]:
        """The rows of a file in its order; raises Invalid pointing at the line that is no row.

        Columns in any order, separated by commas. An empty field is one left out.
        """
        lines = csv_files.rows(content, ",")
        names = self._header(csv_files.header(next(lines, (1, []))[1]))
        found = [self._row(line, names, fields) for line, fields in self._bounded(lines)]
        if not found:
            raise Invalid.at("#/lines/1", f"There is no {self.what[0]} in this file.")
        return found

    def _bounded(self, lines: Iterator[tuple[int, list[str]]]) -> Iterator[tuple[int, list[str]]]:
        for n, (line, fields) in enumerate(lines):
            if n >= self.most_rows:
                detail = f"At most {self.most_rows} {self.what[1]} at once. Send the rest as a second file."
                raise Invalid.at(f"#/lines/{line}", detail, "too-many")
            yield line, fields

    def _header(self, names: list[str]) -> list[str]:
        unknown = [name for name in names if name not in self.places]
        missing = [name for name in self.required if name not in names]
        if unknown or missing or len(set(names)) < len(names):
            others = ", ".join(name for name in self.places if name not in self.required)
            detail = (
                "The first line names the columns, separated by commas, each once:"
                f" {', '.join(self.required)} and any of {others}."
            )
            raise Invalid.at("#/lines/1", detail)
        return names

    def _row(self, line: int, names: Sequence[str], fields: Sequence[str]) -> Row:
        columns = {place: column for column, place in self.places.items()}
        if len(fields) != len(names):
            counted = f"This line holds {len(fields)} fields, the header {len(names)}."
            return Row(line, {}, columns, f"{counted} Put a field with a comma in it in quotes.")
        body: dict[str, Any] = {}
        for name, text in zip(names, (text.strip() for text in fields), strict=True):
            if text:
                *outer, last = self.places[name]
                inner = body.setdefault(outer[0], {}) if outer else body
                inner[last] = self._value(name, text)
        return Row(line, body, columns)

    def _value(self, column: str, text: str) -> Any:
        if column in self.numbers and DECIMAL.fullmatch(text):
            return float(text)
        if column in self.whole and text.isascii() and text.isdigit():
            return int(text)
        if column in self.several:
            return [part.strip() for part in text.split(BETWEEN) if part.strip()]
        # What is neither yes nor no is left as it stands: the form of a row refuses it.
        return ANSWERS.get(text.casefold(), text) if column in self.answers else text
