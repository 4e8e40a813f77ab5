"""Drawing labels: a QR code and a few lines, as large as they fit."""

import io
from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from service.clearance.pdf import draw_code, printable, typeface
from service.clearance.rules_sheets import Sheet, places

PAD = 1.5  # mm between the edge of a label and what stands on it
LARGE, SMALL = 14.0, 9.0  # points
LEAST = 5.0  # points; below it a line is cut


@dataclass(frozen=True)
class Label:
    """What one label says: where its code leads, the large line, and the smaller ones."""

    address: str
    code: str
    lines: Sequence[str]


def labels_pdf(labels: Sequence[Label], sheet: Sheet, skip: int) -> bytes:
    """The labels on sheets of paper, the same bytes each time; print at full size."""
    drawn = io.BytesIO()
    canvas = Canvas(drawn, pagesize=(sheet.page[0] * mm, sheet.page[1] * mm), invariant=1, pageCompression=0)
    canvas.setTitle("Labels")
    canvas.setCreator("Dipledger")
    present = 0
    for label, (page, left, bottom) in zip(labels, places(sheet, len(labels), skip), strict=True):
        if page != present:
            canvas.showPage()
            present = page
        _draw(canvas, label, sheet, left, bottom)
    canvas.showPage()
    canvas.save()
    return drawn.getvalue()


def _draw(canvas: Canvas, label: Label, sheet: Sheet, left: float, bottom: float) -> None:
    side = min(sheet.height - 2 * PAD, 0.42 * sheet.width)
    middle = bottom + (sheet.height - side) / 2
    draw_code(canvas, label.address, (left + PAD) * mm, middle * mm, side * mm)
    start = (left + 2 * PAD + side) * mm
    room = (sheet.width - side - 3 * PAD) * mm
    height = (bottom + sheet.height - PAD) * mm
    for n, text in enumerate([label.code, *label.lines]):
        shown, size = _fitted(printable(text), LARGE if n == 0 else SMALL, room)
        height -= 1.25 * size
        if height < (bottom + PAD) * mm:
            return
        canvas.setFont(typeface().fontName, size)
        canvas.drawString(start, height, shown)


def _fitted(text: str, size: float, room: float) -> tuple[str, float]:
    """A line made smaller, then cut, until it fits."""
    name = typeface().fontName
    size = max(LEAST, min(size, size * room / max(stringWidth(text, name, size), 1e-9)))
    while text and stringWidth(text, name, size) > room + 0.01:
        text = f"{text[:-2]}…"
    return text, size
