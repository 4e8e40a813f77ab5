"""Drawing: the typeface, the QR code, and the statement as a PDF that is the same bytes each time."""

import io
from collections.abc import Iterator, Mapping
from functools import cache
from importlib.resources import files
from typing import Any
from xml.sax.saxutils import escape

import segno
from pypdf import PdfWriter
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import registerFont
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle
from reportlab.platypus.flowables import Flowable

from service.clearance.rules_page import UNPRINTABLE, readable, sections
from service.clearance.rules_words import DECLARATION, TITLE

FACE = "Noto Sans"  # Latin, Greek and Cyrillic; embedded, so that it looks alike everywhere
ATTACHMENT = "statement.jws"
MARGIN = 20 * mm
PADDING = 6  # points that the drawing library leaves inside its frame
WIDTH = A4[0] - 2 * MARGIN - 2 * PADDING
CODE = 34 * mm  # side of the QR code, quiet zone included
QUIET = 4  # modules of quiet zone that ISO/IEC 18004 asks for


def statement_pdf(claims: Mapping[str, Any], token: str) -> bytes:
    """The statement with its signed form attached: the same bytes for the same claims and token.

    Raises KeyError, TypeError or ValueError for claims that are no statement of ours.
    """
    drawn = io.BytesIO()
    document = SimpleDocTemplate(
        drawn,
        pagesize=A4,
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=MARGIN,
        bottomMargin=MARGIN,
        title=f"{TITLE} {claims['jti']}",
        author=printable(claims["issuer"]["name"]),
        subject=DECLARATION,
        creator="Dipledger",
        invariant=1,
        pageCompression=0,  # what a compressor makes of it differs from machine to machine
    )
    document.build(
        list(_story(claims)),
        onFirstPage=lambda canvas, _: _frame(canvas, claims, first=True),
        onLaterPages=lambda canvas, _: _frame(canvas, claims, first=False),
    )
    return _with_attachment(drawn.getvalue(), token)


def draw_code(canvas: Canvas, address: str, left: float, bottom: float, side: float) -> None:
    """Draw a QR code of an address into a square, quiet zone included."""
    rows = list(segno.make(address, error="m", micro=False).matrix)
    module = side / (len(rows) + 2 * QUIET)
    path = canvas.beginPath()
    for down, row in enumerate(rows):
        for across, length in _runs(row):
            x = left + (QUIET + across) * module
            y = bottom + side - (QUIET + down + 1) * module
            path.rect(x, y, length * module, module)
    canvas.setFillGray(0)
    canvas.drawPath(path, stroke=0, fill=1)


def printable(text: str) -> str:
    """A text that the typeface can print."""
    return readable(text, lambda letter: ord(letter) in typeface().face.charToGlyph)


@cache
def typeface() -> TTFont:
    """The one typeface, registered with the drawing library."""
    file = files("fontpkg_noto_sans").joinpath("files", "NotoSans[wdth,wght].ttf")
    font = TTFont(FACE, io.BytesIO(file.read_bytes()))
    registerFont(font)
    return font


def _runs(row: bytearray) -> Iterator[tuple[int, int]]:
    across = 0
    while across < len(row):
        length = 1
        while across + length < len(row) and row[across + length] == row[across]:
            length += 1
        if row[across]:
            yield across, length
        across += length


def _style(size: float, before: float = 0) -> ParagraphStyle:
    return ParagraphStyle(
        f"size {size} {before}",
        fontName=typeface().fontName,
        fontSize=size,
        leading=1.35 * size,
        spaceBefore=before,
        splitLongWords=1,
    )


def _paragraph(text: str, size: float, before: float = 0) -> Paragraph:
    return Paragraph(escape(printable(text)), _style(size, before))


def _story(claims: Mapping[str, Any]) -> Iterator[Flowable]:
    found = sections(claims)
    beside = (WIDTH - CODE, CODE)
    heading = [_paragraph(TITLE, 20), Spacer(1, 3 * mm), _paragraph(DECLARATION, 10)]
    yield Table([[heading, ""]], colWidths=beside, rowHeights=[CODE], style=FLUSH)
    for section in found:
        yield _paragraph(section.heading, 11.5, before=3.5 * mm)
        for about, text in section.lines:
            yield _line(about, text)
    if any(printable(text) != text for section in found for line in section.lines for text in line):
        yield _paragraph(UNPRINTABLE, 9, before=3.5 * mm)


FLUSH = TableStyle(
    [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 1),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
    ]
)


def _line(about: str, text: str) -> Flowable:
    if not about:
        return _paragraph(text, 9.5)
    widths = (42 * mm, WIDTH - 42 * mm)
    return Table([[_paragraph(about, 9.5), _paragraph(text, 9.5)]], colWidths=widths, style=FLUSH)


def _frame(canvas: Canvas, claims: Mapping[str, Any], *, first: bool) -> None:
    if first:
        corner = (A4[0] - MARGIN - PADDING - CODE, A4[1] - MARGIN - CODE)
        draw_code(canvas, claims["check_url"], *corner, CODE)
    canvas.setFont(typeface().fontName, 8)
    foot = f"{TITLE} {claims['jti']} - page {canvas.getPageNumber()}"
    canvas.drawString(MARGIN + PADDING, MARGIN / 2, foot)


def _with_attachment(drawn: bytes, token: str) -> bytes:
    writer = PdfWriter(clone_from=io.BytesIO(drawn))
    writer.add_attachment(ATTACHMENT, token.encode("ascii"))
    whole = io.BytesIO()
    writer.write(whole)
    return whole.getvalue()
