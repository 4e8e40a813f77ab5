"""A file of deliveries: CSV whose columns are named like the members of a receipt."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from service.core import csv_files
from service.core.errors import Invalid
from service.core.fields import DECIMAL

MOST_ROWS = 200
REQUIRED = ("material", "batch_number", "quantity", "unit")
# Where the text of a column stands in the body of one receipt.
PLACES: Mapping[str, tuple[str, ...]] = {
    "material": ("material",),
    "batch_number": ("batch_number",),
    "quantity": ("quantity", "value"),
    "unit": ("quantity", "unit"),
    "at": ("at",),
    "late_reason": ("late_reason",),
    "container_size": ("container_size", "value"),
    "container_unit": ("container_size", "unit"),
    "made_on": ("made_on",),
    "opened_on": ("opened_on",),
    "expires_on": ("expires_on",),
    "strength": ("strength", "value"),
    "strength_basis": ("strength", "basis"),
    "strength_unit": ("strength", "unit"),
    "copper_form": ("copper_form",),
    "drop_ml": ("drop_ml",),
    "shelf": ("shelf",),
    "shelf_celsius": ("shelf_celsius",),
    "cost": ("cost", "value"),
    "currency": ("cost", "currency"),
    "confirm_duplicate": ("confirm_duplicate",),
}
COLUMN_AT = {place: column for column, place in PLACES.items()}
NUMBERS = frozenset({"strength", "drop_ml", "shelf_celsius"})
ANSWERS = {"true": True, "false": False}


@dataclass(frozen=True)
class Row:
    """One row: the line it starts on, and what it says as the body of a receipt.

    Beside that the body holds the code of the material and the name of the shelf.
    """

    line: int
    body: Mapping[str, Any]
    wrong: str | None = None  # why it is no row at all

    def pointer(self, inside: str | None) -> str:
        """Where in the file a pointer into the body ("#/quantity/unit") is: "#/lines/4/unit"."""
        place = tuple((inside or "#")[2:].split("/"))
        column = COLUMN_AT.get(place, place[0])
        return f"#/lines/{self.line}/{column}" if column else f"#/lines/{self.line}"


def read_receipts(content: bytes) -> list[Row]:
    """The rows of a file in its order; raises Invalid pointing at the line that is no row.

    Columns in any order, separated by commas; of `PLACES`, those of `REQUIRED` at least. An empty field is
    one left out. At most 200 rows.
    """
    lines = csv_files.rows(content, ",")
    names = _header(csv_files.header(next(lines, (1, []))[1]))
    found = [_row(line, names, fields) for line, fields in _bounded(lines)]
    if not found:
        raise Invalid.at("#/lines/1", "There is no delivery in this file.")
    return found


def _bounded(lines: Iterator[tuple[int, list[str]]]) -> Iterator[tuple[int, list[str]]]:
    for n, (line, fields) in enumerate(lines):
        if n >= MOST_ROWS:
            detail = f"At most {MOST_ROWS} deliveries at once. Send the rest as a second file."
            raise Invalid.at(f"#/lines/{line}", detail, "too-many")
        yield line, fields


def _header(names: list[str]) -> list[str]:
    unknown = [name for name in names if name not in PLACES]
    missing = [name for name in REQUIRED if name not in names]
    if unknown or missing or len(set(names)) < len(names):
        detail = (
            f"The first line names the columns, separated by commas, each once: {', '.join(REQUIRED)}"
            f" and any of {', '.join(name for name in PLACES if name not in REQUIRED)}."
        )
        raise Invalid.at("#/lines/1", detail)
    return names


def _row(line: int, names: Sequence[str], fields: Sequence[str]) -> Row:
    if len(fields) != len(names):
        counted = f"This line holds {len(fields)} fields, the header {len(names)}."
        return Row(line, {}, f"{counted} Put a field with a comma in it in quotes.")
    body: dict[str, Any] = {}
    for name, field in zip(names, (field.strip() for field in fields), strict=True):
        if field:
            *outer, last = PLACES[name]
            inner = body.setdefault(outer[0], {}) if outer else body
            inner[last] = _value(name, field)
    return Row(line, body)


def _value(column: str, field: str) -> Any:
    if column in NUMBERS and DECIMAL.fullmatch(field):
        return float(field)
    # What is neither yes nor no is left as it stands: the form of a receipt refuses it.
    return ANSWERS.get(field.casefold(), field) if column == "confirm_duplicate" else field
