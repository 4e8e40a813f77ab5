"""The printed statement: every claim is on it, its code leads to the check page, the signed form is in it."""

import hashlib
import io
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import orjson
import pypdfium2
import pytest
import zxingcpp
from joserfc.jwk import OKPKey
from jwcrypto.jwk import JWK
from jwcrypto.jws import JWS
from pypdf import PdfReader

from service.clearance.pdf import statement_pdf
from service.clearance.rules_page import SHOWN, UNPRINTABLE, readable, sections
from service.clearance.rules_statement import claims
from service.clearance.signing import new_key, sign
from tests.clearance.test_signing import CHANCE, ISSUE, PROCEDURE, RFC_KEY, SUBJECT
from tests.clearance.test_words import held_against_official_words

KEY = OKPKey.import_key(new_key())
TREATED = {
    "protocol": "alum-soak",
    "version": 3,
    "from": "2026-01-05T10:15:00+01:00",
    "to": "2026-01-05T12:20:00+00:00",
    "state": "finished",
}
LOOKED = {"at": "2026-02-20T08:00:00+00:00", "method": "eyes", "looked_at": 38, "of": 41, "live_found": 0}
NIGHT = {**LOOKED, "method": "bait_night", "looked_at": None, "live_found": 2}
SAID = claims(
    ISSUE,
    SUBJECT,
    replace(PROCEDURE, pests=["Pond snail", "Bladder snail"], treatments=[TREATED], looks=[LOOKED, NIGHT]),
)
EVERY_FACT = [
    "Anubias barteri",
    "40 × pot",
    "26-001-01",
    "urn:uuid:0190a000-0000-7000-8000-000000000000",
    "0123456789ABCDEFGHJKMNPQRS",
    "2026-03-02 09:00 UTC",
    "2026-04-01 09:00 UTC",
    "https://nursery.example/c/0123456789ABCDEFGHJKMNPQRS",
    "Fenmarsh Aquatics, 1 Sluice Lane",
    "https://nursery.example",
    "Pond snail, Bladder snail",
    "alum-soak, version 3, from 2026-01-05 09:15 UTC to 2026-01-05 12:20 UTC: finished",
    "2026-02-20 08:00 UTC, eyes, 38 of 41 looked at: nothing found alive",
    "2026-02-20 08:00 UTC, bait night: 2 found alive",
    "97.12 %, reckoned with a never-seen share of 5.00 %",
    "standard, version 1",
    "version 2",
    "2026.11-1",
    "Layout 1",
    *SAID["statement"],
]


def drawn(said: Mapping[str, Any] = SAID) -> bytes:
    return statement_pdf(said, sign(said, KEY))


def text_of(page: bytes) -> str:
    """The text of all pages as pdfium reads it, not the library that wrote it."""
    found = [sheet.get_textpage().get_text_range() for sheet in pypdfium2.PdfDocument(page)]
    return " ".join(" ".join(found).split())


def pictures(page: bytes) -> list[Any]:
    """Each page as pixels."""
    return [sheet.render(scale=2).to_numpy() for sheet in pypdfium2.PdfDocument(page)]


@pytest.mark.parametrize("fact", EVERY_FACT)
def test_every_fact_is_on_the_page(fact: str) -> None:
    assert fact in text_of(drawn())


def test_no_claim_is_without_a_place_on_the_page() -> None:
    assert set(SAID) <= SHOWN


def test_a_claim_that_the_layout_does_not_know_is_printed_all_the_same() -> None:
    more = {"notes": [{"by_whom": "Ana", "at": "noon"}], "tested_on": "shrimp", "n": [1]}
    found = {section.heading: section.lines for section in sections({**SAID, **more})}
    assert found["Also stated"] == [
        ("N", "1"),
        ("Notes", "by whom: Ana; at: noon"),
        ("Tested on", "shrimp"),
    ]


def test_a_gate_that_the_owner_overrode_is_printed_with_what_was_missing_and_why() -> None:
    override = {
        "gate": "temperature_log",
        "needed": 0.9,
        "have": 0.4,
        "not_met": "The log has gaps.",
        "reason": "the logger drowned",
    }
    text = text_of(drawn({**SAID, "overrides": [override]}))
    assert "Cleared although" in text
    assert "The log has gaps. (needed 0.9, there was 0.4) The owner's reason: the logger drowned" in text
    assert "Cleared although" not in text_of(drawn({**SAID, "overrides": []}))


def test_a_parcel_says_when_it_was_sent_and_whose_part_it_is() -> None:
    parcel = {"of": "Z" * 26, "sent_at": "2026-03-05T23:30:00+02:00"}
    text = text_of(drawn({**SAID, "parcel": parcel, "supersedes": "Y" * 26}))
    assert f"Sent on 2026-03-05; part of statement {'Z' * 26}" in text
    assert f"In place of {'Y' * 26}" in text


def test_what_was_not_recorded_is_said_to_be_so() -> None:
    bare = {**SAID, "issuer": {"name": "", "address": ""}, "last_water_contact": None}
    bare["treatments"] = [{**TREATED, "to": None}]
    lines = [line for section in sections(bare) for line in section.lines]
    assert ("Seller", "-") in lines
    assert ("Waiting since", "-") in lines
    assert any("to (not recorded)" in text for _, text in lines)


def test_the_code_on_the_page_leads_to_the_check_page() -> None:
    # Read off the drawn pixels by ZXing (ISO/IEC 18004), which had no part in making it.
    [found] = zxingcpp.read_barcodes(pictures(drawn())[0])
    assert found.text == SAID["check_url"]
    assert found.format == zxingcpp.BarcodeFormat.QRCode


def test_the_signed_statement_lies_inside_and_another_library_accepts_it() -> None:
    reader = PdfReader(io.BytesIO(drawn()))
    token = JWS()
    token.allowed_algs = ["Ed25519"]
    token.deserialize(reader.attachments["statement.jws"][0].decode())
    token.verify(JWK.from_json(orjson.dumps(KEY.as_dict(private=False)).decode()), alg="Ed25519")
    assert orjson.loads(token.payload) == SAID


def test_the_same_statement_makes_the_same_bytes() -> None:
    assert drawn() == drawn()


def test_there_is_no_official_word_or_mark_on_the_page() -> None:
    page = drawn()
    held_against_official_words(
        "\n".join(sheet.get_textpage().get_text_range() for sheet in pypdfium2.PdfDocument(page))
    )
    for pixels in pictures(page):
        # Marks of such documents are flags and emblems: nothing here is coloured, no picture is placed.
        assert int(np.ptp(pixels[..., :3].astype(int), axis=-1).max()) == 0
    assert b"/XObject" not in page


@pytest.mark.parametrize("name", ["Żabie Oczko", "Водные растения", "Υδρόβια φυτά", "Plantes d'étang ½ ×"])
def test_names_in_latin_greek_and_cyrillic_letters_are_printed_as_they_are(name: str) -> None:
    text = text_of(drawn({**SAID, "issuer": {"name": name, "address": ""}}))
    assert name in text
    assert UNPRINTABLE not in text


def test_letters_that_the_typeface_lacks_are_named_and_the_page_says_so() -> None:
    text = text_of(drawn({**SAID, "issuer": {"name": "水草", "address": ""}}))
    assert "[U+6C34][U+8349]" in text
    assert UNPRINTABLE in text


def test_a_letter_written_in_two_signs_is_printed_as_one() -> None:
    assert readable("Z\u0307", lambda letter: letter == "Ż") == "Ż"


def test_a_long_history_runs_on_over_pages_that_all_name_the_number() -> None:
    sheets = pypdfium2.PdfDocument(drawn({**SAID, "looks": [LOOKED] * 120}))
    assert len(sheets) >= 3
    assert all(SAID["jti"] in sheet.get_textpage().get_text_range() for sheet in sheets)


def test_markup_in_a_name_is_only_text() -> None:
    name = "<b>Reed & <para>"
    assert name in text_of(drawn({**SAID, "issuer": {"name": name, "address": ""}}))


def test_the_chance_is_that_of_the_claims() -> None:
    assert SAID["chance_none_is_left"] == [CHANCE]


FROZEN = {
    "iss": "https://nursery.example",
    "jti": "0123456789ABCDEFGHJKMNPQRS",
    "sub": "urn:uuid:0190a000-0000-7000-8000-000000000000",
    "iat": 1772442000,
    "nbf": 1772442000,
    "exp": 1775034000,
    "layout": 1,
    "issuer": {"name": "Żabie Oczko", "address": "1 Sluice Lane"},
    "lot": "26-001-01",
    "scientific_name": "Anubias barteri",
    "quantity": 40,
    "unit_of_sale": "pot",
    "check_url": "https://nursery.example/c/0123456789ABCDEFGHJKMNPQRS",
    "looked_for": ["Pond snail"],
    "treatments": [TREATED],
    "looks": [LOOKED],
    "last_water_contact": "2026-01-05T12:20:00+00:00",
    "policy": "standard",
    "policy_version": 1,
    "rules_version": "2",
    "reference_version": "2026.11-1",
    "chance_none_is_left": [CHANCE],
    "statement": ["This is the seller's own statement."],
}


def test_layout_1_is_drawn_as_it_was_when_it_was_numbered() -> None:
    # Papers that customers hold are compared byte for byte. When this fails, a library or the drawing has
    # changed: pin the library, or raise LAYOUT and keep drawing layout 1.
    page = statement_pdf(FROZEN, sign(FROZEN, OKPKey.import_key(RFC_KEY)))
    assert (
        hashlib.sha256(page).hexdigest() == "eec433e708e047f0eba7ae824559e77ca8344d10307254cadd5fe1688ef897b5"
    )
