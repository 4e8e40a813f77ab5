"""The whole main job by clicking: at a desk, on a phone, and with script off.

Forty pots come in, are looked at, soaked in alum, kept for six weeks, looked at again, cleared and sold; the
acts of the past are entered late, as from a notebook. The course of things is that of README.md.
"""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.browser.conftest import Served
from tests.browser.hands import DESK, PHONE, Hands, opened
from tests.make_photos import PDF, encoded, half_and_half

NOW = datetime.now(UTC).replace(second=0, microsecond=0)
LATE = "from my notebook"
STEPS = ((44.8, 44.75), (44.7, 42.6), (42.55, 42.549), (42.45, 42.449))
STRAINS = (40, 36.5, 33, 29.5, 26, 22.5, 19, 15.5, 12, 8.5)


@pytest.fixture(params=[(DESK, True), (PHONE, True), (DESK, False)], ids=["desk", "phone", "script-off"])
def hands(request: pytest.FixtureRequest, house: Served) -> Iterator[Hands]:
    size, script = request.param
    with opened(house.address, size, script=script) as found:
        yield found


def ago(days: float) -> datetime:
    return NOW - timedelta(days=days)


def earlier(hands: Hands, days: float) -> None:
    hands.unfold("It happened earlier")
    hands.fill("When", ago(days))
    hands.fill("Why so late", LATE)


def test_a_lot_goes_from_the_lorry_to_the_customer(hands: Hands, tmp_path: Path) -> None:
    hands.sign_in()
    set_up(hands)
    lot = receive(hands, tmp_path)
    look_with_eggs(hands, lot)
    photograph(hands, lot, tmp_path)
    soak(hands, lot)
    keep(hands)
    last_looks(hands, lot)
    serial = clear(hands, lot)
    sell(hands)
    subscribe(hands)
    hands.open(f"/c/{serial}")
    assert "valid" in hands.text()
    hands.open("/console/stores")
    assert "860 g" in hands.text()  # 1 kg less 3.5 g/L in 40 L


def set_up(hands: Hands) -> None:
    hands.open("/console/tubs")
    hands.fill("Number on the tub", "T1")
    hands.fill("Water", "40")
    hands.fill("Heater set to", "24")
    hands.press("Set it up")
    hands.open("/console/stores/receive")
    hands.choose("Material", "Potassium alum")
    hands.press("Next")
    hands.fill("How much", "1")
    hands.fill("Unit", "kg")
    hands.fill("Batch number on the label", "A-17")
    earlier(hands, 45)
    hands.press("Put it on the shelf")


def receive(hands: Hands, folder: Path) -> str:
    hands.open("/console/receive")
    hands.fill("One plant a line", "40 pots Anubias barteri")
    hands.press("Read the lines")
    hands.fill("Name of a new supplier", "Fenmarsh Growers")
    hands.fill("Country", "NL")
    hands.fill("Number on it", "NL-0000-001")
    earlier(hands, 45)
    hands.press("Count it in")
    (folder / "passport.pdf").write_bytes(PDF)
    hands.unfold("Add photos or papers")
    hands.attach("Photos", folder / "passport.pdf")
    hands.fill("They are", "plant passport")
    hands.press("Add them")
    assert "plant passport (PDF, 1 KB)" in hands.text()
    code = f"{ago(45):%y}-001-01"
    hands.press(code)
    return hands.driver.current_url.removeprefix(hands.address)


def look_with_eggs(hands: Hands, lot: str) -> None:
    hands.open(lot)
    hands.press("Look at it")
    assert "of 40, drawn blindly" in hands.text() or "all 40" in hands.text()
    hands.fill("How many were looked at", "40")
    hands.fill("Pest", "bladder snail")
    hands.fill("Stage", "egg mass")
    hands.fill("Live", "3")
    hands.tick("picked off")
    earlier(hands, 44.9)
    hands.press("Write it down")
    assert "bladder snail" in hands.text()


def photograph(hands: Hands, lot: str, folder: Path) -> None:
    """The eggs are shown; a picture of another lot slipped in and is taken back."""
    right, wrong = folder / "eggs.jpg", folder / "other.png"
    right.write_bytes(encoded(half_and_half(400, 300)))
    wrong.write_bytes(encoded(half_and_half(300, 300), "PNG"))
    hands.open(lot)
    hands.unfold("Add photos")
    hands.attach("Photos", right, wrong)
    hands.press("Add them")
    assert len(hands.driver.find_elements("css selector", ".shots img")) == 2
    hands.unfold("A photo was wrong")
    hands.fill("Which", "Photo 2")
    hands.fill("Why", "it shows another lot")
    hands.press("Void the photo")
    assert "void, by Ines: it shows another lot" in hands.text()
    [shown] = hands.driver.find_elements("css selector", ".shots img")
    assert str(shown.get_attribute("alt")).startswith("Photo 1")


def subscribe(hands: Hands) -> None:
    """What is due stands in a calendar of one's own."""
    hands.open("/console/account")
    hands.press("Make an address")
    assert ".ics" in hands.text()


def soak(hands: Hands, lot: str) -> None:
    hands.open(lot)
    hands.press("Treat")
    assert "Alum soak" in hands.text()
    hands.driver.get(str(hands.driver.find_element("xpath", SHEET_OF_ALUM).get_attribute("href")))
    assert "140 g" in hands.text()  # 3.5 g/L in 40 L
    assert "Never mix" in hands.text()
    earlier(hands, 44.85)
    hands.press("Put the lot into tub T1")
    for n, (begins, ends) in enumerate(STEPS, 1):
        earlier(hands, begins)
        hands.press(f"Begin step {n}")
        earlier(hands, ends)
        hands.press(f"End step {n}")
    earlier(hands, 42.3)
    hands.press("Into quarantine")
    assert "Carried out to its end." in hands.text()


SHEET_OF_ALUM = "//article[.//h2[starts-with(., 'Alum soak')]]//a[contains(., 'Mixing sheet')]"


def keep(hands: Hands) -> None:
    hands.open("/console/tubs")
    hands.press("T1")
    tub = hands.driver.current_url
    hands.unfold("Read a logger out")
    hours = range(45 * 24, -1, -3)
    hands.fill("Its lines", "\n".join(f"{ago(hour / 24):%Y-%m-%dT%H:%M}; 23,5" for hour in hours))
    hands.unfold("It happened earlier")
    hands.fill("Why so late", "logger read out")
    hands.press("Write it down")
    number = tub.rsplit("/", 1)[1]
    for day, how in [*((day, "water strained") for day in STRAINS), (36, "bait")]:
        hands.open(f"/console/look?tub={number}")
        hands.fill("How", how)
        earlier(hands, day)
        hands.press("Write it down")


def last_looks(hands: Hands, lot: str) -> None:
    for day in (4, 0.5):
        hands.open(lot)
        hands.press("Look at it")
        hands.fill("How many were looked at", "40")
        earlier(hands, day)
        hands.press("Write it down")


def clear(hands: Hands, lot: str) -> str:
    hands.open(lot)
    hands.press("Clear it and sign the certificate")
    assert "Ready" in hands.text()
    found = hands.driver.find_element("css selector", "#decide code")
    return str(found.text)


def sell(hands: Hands) -> None:
    hands.open("/console/sales")
    hands.fill("Order", "W-1001")
    hands.fill("Customer", "customer 17")
    hands.fill("How many", "6")
    hands.tick("Last glance")
    hands.press("Send it off")
    assert "W-1001" in hands.text()
    assert "34" in hands.text()
