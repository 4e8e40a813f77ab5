"""Where labels stand on a sheet: plain geometry in millimetres."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from service.core.reasons import Reason

A4 = (210.0, 297.0)  # ISO 216
LETTER = (215.9, 279.4)  # ANSI/ASME Y14.1 size A, 8.5 x 11 in


@dataclass(frozen=True)
class Sheet:
    """A page with equal labels in rows and columns; lengths in mm.

    `left` and `top` are the margins to the first label, `across` and `down` the distances from one label's
    beginning to the next one's.
    """

    page: tuple[float, float]
    columns: int
    rows: int
    width: float
    height: float
    left: float
    top: float
    across: float
    down: float

    @property
    def places(self) -> int:
        """How many labels a page has."""
        return self.columns * self.rows


# Common grids by what they are, not by anybody's article number (common practice, no source; measure yours).
SHEETS: Mapping[str, Sheet] = {
    "a4-3x8": Sheet(A4, 3, 8, 63.5, 33.9, 7.25, 12.9, 66.0, 33.9),
    "a4-2x7": Sheet(A4, 2, 7, 99.1, 38.1, 4.65, 15.15, 101.6, 38.1),
    "a4-2x4": Sheet(A4, 2, 4, 99.1, 67.7, 4.65, 13.1, 101.6, 67.7),
    "letter-3x10": Sheet(LETTER, 3, 10, 66.675, 25.4, 4.7625, 12.7, 69.85, 25.4),
    "letter-2x5": Sheet(LETTER, 2, 5, 101.6, 50.8, 3.96875, 12.7, 106.3625, 50.8),
}
LEAST = (40.0, 20.0)  # mm; a smaller label holds no code that a phone reads when wet


def sheet_reasons(sheet: Sheet) -> list[Reason]:
    """What is wrong with a sheet of somebody's own: labels too small, over each other, or off the page."""
    last_x = sheet.left + (sheet.columns - 1) * sheet.across + sheet.width
    last_y = sheet.top + (sheet.rows - 1) * sheet.down + sheet.height
    wrong = [
        (sheet.width < LEAST[0], "width", f"A label is at least {LEAST[0]:g} mm wide."),
        (sheet.height < LEAST[1], "height", f"A label is at least {LEAST[1]:g} mm high."),
        (sheet.columns > 1 and sheet.across < sheet.width, "across", "The columns overlap."),
        (sheet.rows > 1 and sheet.down < sheet.height, "down", "The rows overlap."),
        (last_x > sheet.page[0] + 0.01, "left", f"The last column ends at {last_x:g} mm, off the page."),
        (last_y > sheet.page[1] + 0.01, "top", f"The last row ends at {last_y:g} mm, off the page."),
    ]
    return [Reason("sheet", detail, pointer=f"#/{where}") for bad, where, detail in wrong if bad]


def places(sheet: Sheet, count: int, skip: int) -> Iterator[tuple[int, float, float]]:
    """Page, left and bottom (mm from the page's lower left corner) of each label, row by row.

    `skip` places of the first page are left out: they were used before.
    """
    for n in range(skip, skip + count):
        page, place = divmod(n, sheet.places)
        row, column = divmod(place, sheet.columns)
        left = sheet.left + column * sheet.across
        yield page, left, sheet.page[1] - sheet.top - row * sheet.down - sheet.height
