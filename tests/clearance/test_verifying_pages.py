"""Checking printed statements offline: any change to the page, or to what lies inside it, is found out."""

import io

import pytest
from pypdf import PdfReader, PdfWriter
from pypdf.generic import NameObject, StreamObject

from service.clearance.pdf import ATTACHMENT, statement_pdf
from service.clearance.signing import sign
from service.clearance.verifying import LARGEST, verify
from tests.clearance.test_page import SAID
from tests.clearance.test_verifying import KEY, PAGE, TODAY, TOKEN, codes


@pytest.mark.promise(r=29)
@pytest.mark.parametrize("place", range(0, len(PAGE), 997))
def test_any_changed_byte_of_the_page_is_found_out(place: int) -> None:
    changed = bytearray(PAGE)
    changed[place] ^= 0x01
    assert codes(bytes(changed)) != []


@pytest.mark.parametrize(
    "tampered",
    [PAGE + b"\n", PAGE[:-1], PAGE + PAGE, b"%PDF-1.7\n", PAGE[:2000]],
    ids=["longer", "shorter", "twice", "empty", "torn"],
)
def test_a_page_made_longer_or_shorter_is_found_out(tampered: bytes) -> None:
    assert codes(tampered) in (["page-differs"], ["no-statement"])


def attached_anew(token: str) -> bytes:
    """Our page with another signed statement inside."""
    writer = PdfWriter(clone_from=io.BytesIO(PAGE))
    del writer.root_object["/Names"]
    writer.add_attachment(ATTACHMENT, token.encode())
    whole = io.BytesIO()
    writer.write(whole)
    return whole.getvalue()


def test_a_genuine_statement_of_other_plants_put_inside_is_found_out() -> None:
    other = sign({**SAID, "jti": "Z" * 26, "quantity": 4000}, KEY)
    swapped = attached_anew(other)
    assert PdfReader(io.BytesIO(swapped)).attachments[ATTACHMENT] == [other.encode()]
    verdict = verify(swapped, [KEY], TODAY)
    assert [reason.code for reason in verdict.reasons] == ["page-differs"]
    assert verdict.claims["quantity"] == 4000


def test_visible_text_changed_over_a_genuine_statement_is_found_out() -> None:
    more = statement_pdf({**SAID, "quantity": 4000}, TOKEN)
    assert PdfReader(io.BytesIO(more)).attachments[ATTACHMENT] == [TOKEN.encode()]
    assert codes(more) == ["page-differs"]


def test_a_note_laid_over_the_page_is_found_out() -> None:
    writer = PdfWriter(clone_from=io.BytesIO(PAGE))
    more = StreamObject()
    more.set_data(b"q 1 g 50 600 300 100 re f Q")
    page = writer.pages[0]
    page[NameObject("/Contents")] = writer._add_object(more)
    whole = io.BytesIO()
    writer.write(whole)
    assert codes(whole.getvalue()) == ["page-differs"]


def test_a_pdf_with_no_statement_or_with_two_is_refused() -> None:
    bare, twice = PdfWriter(), PdfWriter(clone_from=io.BytesIO(PAGE))
    bare.add_blank_page(100, 100)
    twice.add_attachment(ATTACHMENT, TOKEN.encode())
    for writer in (bare, twice):
        whole = io.BytesIO()
        writer.write(whole)
        assert codes(whole.getvalue()) == ["no-statement"]


@pytest.mark.promise(r=25)
def test_a_file_far_too_large_is_not_read() -> None:
    assert codes(b"%PDF-" + b"0" * LARGEST) == ["too-large"]
    assert codes(b"0" * (LARGEST + 1)) == ["too-large"]


def test_a_layout_of_another_day_is_not_guessed_at() -> None:
    later = {**SAID, "layout": 99}
    assert codes(statement_pdf(later, sign(later, KEY))) == ["layout"]
