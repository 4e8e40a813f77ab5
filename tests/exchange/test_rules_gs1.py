"""Keys of GS1. Prefix 952 is kept by GS1 for examples; the keys are from its General Specifications."""

import pytest
from marshmallow import ValidationError

from service.core.gs1 import GLN, GTIN, check_digit, is_key, same_item
from service.core.gs1_field import Gs1Key
from service.exchange.rules_gs1 import lot_uri, place_uri
from tests.reference.outside import Kind, outside

LOT = "0195a1b2-0000-7000-8000-000000000001"


@outside(Kind.STANDARD, "GS1 General Specifications, check digits; ISBN 978-0-306-40615-7 as GTIN-13")
@pytest.mark.parametrize(
    "key", ["09521321000018", "9521321000001", "9780306406157", "614141000036", "4006381333931", "96385074"]
)
def test_the_check_digit_of_a_published_key(key: str) -> None:
    assert check_digit(key[:-1]) == key[-1]
    assert is_key(key, GTIN)
    assert not is_key(key[:-1] + str((int(key[-1]) + 1) % 10), GTIN)


# Worked step by step by member organisations of GS1, each with a sum of its own; read in stored copies of
# www.gs1hk.org/CheckDigitCalculator_en.htm (57 -> 3), www.gs1.se "Så beräknas kontrollsiffran" (23 -> 7) and
# www.gs1india.org/SERV/checkdgt.htm (63 -> 7).
@outside(Kind.WORKED, "GS1 Hong Kong, GS1 Sweden and GS1 India, worked examples of the check digit")
@pytest.mark.parametrize(
    ("before", "digit"), [("629104150021", "3"), ("730001100001", "7"), ("890400021003", "7")]
)
def test_the_check_digit_of_a_worked_example(before: str, digit: str) -> None:
    assert check_digit(before) == digit


@pytest.mark.parametrize(
    "text", ["", "952132100001", "95213210000011", "95213210000 1", "\u0669521321000001"]
)
def test_what_is_no_key_is_refused_with_what_is_wrong(text: str) -> None:
    with pytest.raises(ValidationError):
        Gs1Key(GLN).deserialize(text)
    with pytest.raises(ValidationError, match="it would be 1"):
        Gs1Key(GLN).deserialize("9521321000002")
    assert Gs1Key(GLN).deserialize("9521321000001") == "9521321000001"


@outside(Kind.STANDARD, "GS1 Digital Link URI syntax: AI 01 in 14 digits, then AI 10, percent-encoded")
def test_a_lot_of_ones_own_prefix_is_a_digital_link() -> None:
    assert lot_uri(LOT, "260302-01", "09521321000018", "952132") == (
        "https://id.gs1.org/01/09521321000018/10/260302-01"
    )
    assert lot_uri(LOT, "26/03", "9521321000001", "952132").endswith("/10/26%2F03")


@pytest.mark.parametrize(
    ("gtin", "prefix", "code"),
    [
        (None, "952132", "260302-01"),
        ("09521321000018", None, "260302-01"),
        ("09521321000018", "400638", "260302-01"),  # somebody else's number: no batch of ours below it
        ("09521321000018", "952132", "260302-01-a-code-too-long"),
    ],
)
def test_any_other_lot_is_a_urn(gtin: str | None, prefix: str | None, code: str) -> None:
    assert lot_uri(LOT, code, gtin, prefix) == f"urn:uuid:{LOT}"


def test_a_place_is_its_gln_or_its_own_address() -> None:
    assert place_uri("9521321000001", "https://nursery.example") == "https://id.gs1.org/414/9521321000001"
    assert place_uri(None, "https://nursery.example") == "https://nursery.example/"


def test_one_gtin_has_many_ways_to_be_written() -> None:
    ways = {"952132100001", "0952132100001", "00952132100001"}
    assert all(same_item(way) == ways for way in ways)
    assert same_item("19521321000015") == {"19521321000015"}
    assert same_item(None) == set()
