"""Labels: each on its own place of the sheet, readable, and leading to the right page."""

from dataclasses import replace
from itertools import combinations
from typing import Any

import pypdfium2
import pytest
import zxingcpp

from service.clearance.label_pdf import Label, labels_pdf
from service.clearance.rules_sheets import SHEETS, Sheet, places, sheet_reasons
from tests.api import Api
from tests.clearance.test_words import held_against_official_words
from tests.journeys.bench import Bench

ADDRESS = "https://nursery.example/c/0123456789ABCDEFGHJKMNPQRS"
SHEET = SHEETS["a4-3x8"]
SCALE = 3  # pixels to a point


def read(page: bytes, on: Sheet = SHEET) -> list[list[str]]:
    """What a reader finds on each drawn page, row by row from the top, each from the left."""

    def place(code: zxingcpp.Barcode) -> tuple[int, int]:
        middle = (code.position.top_left.y + code.position.bottom_right.y) / 2 / SCALE * 25.4 / 72
        return int((middle - on.top) // on.down), code.position.top_left.x

    sheets = pypdfium2.PdfDocument(page)
    found = [zxingcpp.read_barcodes(sheet.render(scale=SCALE).to_numpy()) for sheet in sheets]
    return [[code.text for code in sorted(codes, key=place)] for codes in found]


def words(page: bytes) -> str:
    return "\n".join(sheet.get_textpage().get_text_range() for sheet in pypdfium2.PdfDocument(page))


@pytest.mark.parametrize("name", sorted(SHEETS))
def test_every_shipped_sheet_fits_its_page(name: str) -> None:
    sheet = SHEETS[name]
    assert sheet_reasons(sheet) == []
    assert f"{sheet.columns}x{sheet.rows}" == name.split("-")[1]
    boxes = [(x, y, x + sheet.width, y + sheet.height) for _, x, y in places(sheet, sheet.places, 0)]
    assert all(x0 >= 0 and y0 >= 0 for x0, y0, _, _ in boxes)
    assert all(x1 <= sheet.page[0] and y1 <= sheet.page[1] for _, _, x1, y1 in boxes)
    for one, other in combinations(boxes, 2):
        apart = one[2] <= other[0] + 1e-6 or other[2] <= one[0] + 1e-6
        assert apart or one[3] <= other[1] + 1e-6 or other[3] <= one[1] + 1e-6


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"width": 30.0}, "#/width"),
        ({"height": 10.0}, "#/height"),
        ({"across": 60.0}, "#/across"),
        ({"down": 30.0}, "#/down"),
        ({"left": 40.0}, "#/left"),
        ({"top": 60.0}, "#/top"),
    ],
)
def test_a_sheet_that_cannot_be_printed_is_named(change: dict[str, Any], pointer: str) -> None:
    assert [reason.pointer for reason in sheet_reasons(replace(SHEET, **change))] == [pointer]


def test_places_go_row_by_row_over_pages_and_skip_used_ones() -> None:
    found = list(places(SHEET, 4, 22))
    assert [page for page, _, _ in found] == [0, 0, 1, 1]
    assert found[2][1:] == pytest.approx((7.25, 297 - 12.9 - 33.9))
    assert found[0][1] == pytest.approx(7.25 + 66.0)


@pytest.mark.parametrize("name", sorted(SHEETS))
def test_every_code_of_a_full_sheet_is_read(name: str) -> None:
    sheet = SHEETS[name]
    labels = [
        Label(f"{ADDRESS[:-2]}{n:02}", f"26-{n:03}", ["Anubias barteri"]) for n in range(sheet.places + 1)
    ]
    page = labels_pdf(labels, sheet, 0)
    first, second = read(page, sheet)
    assert first == [label.address for label in labels[:-1]]
    assert second == [labels[-1].address]
    assert page == labels_pdf(labels, sheet, 0)
    size = pypdfium2.PdfDocument(page)[0].get_size()
    assert size == pytest.approx([length / 25.4 * 72 for length in sheet.page], abs=0.01)


def test_a_long_name_is_made_to_fit_and_foreign_letters_are_printed() -> None:
    long = "Bucephalandra sp. 'the very long name of a very small plant from a very far river'"
    text = words(labels_pdf([Label(ADDRESS, "26-001-01", [long, "Żabie 水"])], SHEET, 0))
    assert "26-001-01" in text
    assert "Bucephalandra sp." in text
    assert "…" in text
    assert "Żabie [U+6C34]" in text


def test_lines_that_have_no_room_are_left_out() -> None:
    text = words(labels_pdf([Label(ADDRESS, "26-001-01", [f"line {n}" for n in range(20)])], SHEET, 0))
    assert "line 0" in text
    assert "line 19" not in text


def test_labels_lead_to_the_check_page_or_to_the_thing_itself(api: Api) -> None:
    bench = Bench(api)
    cleared, tub = bench.cleared_lot(), bench.tub("Q9")
    waiting = bench.lot("anubias-barteri", 12)["id"]
    answer = api.grower.get(f"/labels.pdf?lots={cleared},{waiting}&tubs={tub}&sheet=letter-3x10&skip=1")
    assert (answer.status_code, answer.mimetype) == (200, "application/pdf")
    serial = bench.see(cleared)["certificate_serial"]
    house = "https://nursery.example"
    assert read(answer.data, SHEETS["letter-3x10"]) == [
        [f"{house}/c/{serial}", f"{house}/console/lots/{waiting}", f"{house}/console/lots?tub={tub}"]
    ]
    text = words(answer.data)
    assert all(word in text for word in ("Anubias barteri", "20 × pot", "12 × pot", "Q9", "40 L", "24 °C"))
    held_against_official_words(text)
    assert b"/XObject" not in answer.data
    assert len(read(api.grower.get(f"/labels.pdf?tubs={tub}&copies=25").data)) == 2


@pytest.mark.parametrize(
    ("query", "status"),
    [
        ("", 422),
        ("lots=nonsense", 422),
        ("tubs={tub}&sheet=a5", 422),
        ("tubs={tub}&skip=24", 422),
        ("tubs={tub}&page=a4", 422),
        ("tubs={tub}&sheet=a4-3x8&page=a4", 422),
        ("tubs={tub}&page=a4&columns=2&rows=2&width=90&height=50&left=10&top=10&across=80&down=60", 422),
        ("tubs={tub}&page=a4&columns=2&rows=2&width=90&height=50&left=10&top=10&across=95&down=60", 200),
        ("tubs=00000000-0000-7000-8000-000000000000", 404),
        ("lots=00000000-0000-7000-8000-000000000000", 404),
    ],
)
def test_what_cannot_be_printed_is_said(api: Api, query: str, status: int) -> None:
    tub = api.grower.made("/tubs", {"code": "T1", "volume": {"value": 40, "unit": "L"}})["id"]
    assert api.grower.get(f"/labels.pdf?{query.format(tub=tub)}").status_code == status
    assert api.nobody.get(f"/labels.pdf?tubs={tub}").status_code == 401


def test_a_house_that_reckons_in_us_units_prints_on_letter(api: Api) -> None:
    tag = api.owner.get("/settings").headers["ETag"]
    api.owner.send("PATCH", "/settings", {"units": "us"}, headers={"If-Match": tag})
    tub = api.grower.made(
        "/tubs",
        {
            "code": "T1",
            "volume": {"value": 10, "unit": "[gal_us]"},
            "set_point": {"value": 75, "unit": "[degF]"},
        },
    )["id"]
    page = api.grower.get(f"/labels.pdf?tubs={tub}").data
    assert pypdfium2.PdfDocument(page)[0].get_size() == pytest.approx([612, 792])
    assert "10 gal" in words(page)
    assert "75 °F" in words(page)
