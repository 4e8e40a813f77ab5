"""Codes of shipments and lots, lines and counts."""

from datetime import date

import pytest

from service.intake.rules import counted, line_reasons, lot_code, shipment_code, treatment_unknown


def test_codes_say_year_shipment_and_line() -> None:
    assert shipment_code(date(2026, 3, 2), 31) == "26-031"
    assert shipment_code(date(2026, 3, 2), 1000) == "26-1000"
    assert lot_code("26-031", 2) == "26-031-02"


@pytest.mark.parametrize(
    ("told", "unknown"),
    [
        (None, False),
        ("none", False),
        ("unknown", True),
        ("alum", False),
        (" Unknown", True),
        ("a Copper dip", True),
    ],
)
def test_an_unknown_treatment_is_one_that_was_asked_about(*, told: str | None, unknown: bool) -> None:
    assert treatment_unknown(told) is unknown


@pytest.mark.parametrize(
    ("line", "pointers"),
    [
        ({"unit_of_sale": "bunch", "stems_per_bunch": 6, "untied": True}, []),
        ({"unit_of_sale": "pot", "stems_per_bunch": None, "untied": False}, []),
        ({"unit_of_sale": "pot", "stems_per_bunch": 6, "untied": False}, ["#/lines/0/stems_per_bunch"]),
        ({"unit_of_sale": "pot", "stems_per_bunch": None, "untied": True}, ["#/lines/0/untied"]),
    ],
)
def test_only_bunches_have_stems(line: dict[str, object], pointers: list[str]) -> None:
    assert [reason.pointer for reason in line_reasons([line])] == pointers


@pytest.mark.parametrize(
    ("counts", "found", "pointers"),
    [
        ([], {1: 40, 2: 10}, []),
        ([{"n": 2, "quantity": 9}], {1: 40, 2: 9}, []),
        ([{"n": 3, "quantity": 9}], {1: 40, 2: 10, 3: 9}, ["#/lines/0/n"]),
        ([{"n": 1, "quantity": 1}, {"n": 1, "quantity": 2}], {1: 2, 2: 10}, ["#/lines/1/n"]),
    ],
)
def test_what_was_counted_counts(
    counts: list[dict[str, int]], found: dict[int, int], pointers: list[str]
) -> None:
    units, reasons = counted({1: 40, 2: 10}, counts)
    assert units == found
    assert [reason.pointer for reason in reasons] == pointers
