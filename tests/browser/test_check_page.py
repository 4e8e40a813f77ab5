"""What a buyer's phone shows: the code on the paper read, its address opened, each status told in words."""

import pypdfium2
import zxingcpp

from tests.api import Api
from tests.browser.conftest import Served
from tests.browser.hands import PHONE, Hands, opened
from tests.journeys.bench import Bench


def held_against_barriers(hands: Hands) -> None:
    assert hands.violations() == []
    assert not hands.wider_than_the_screen()
    assert hands.driver.find_elements("tag name", "script") == []


def test_a_buyer_scans_the_paper_and_is_told_in_words_whether_it_stands(house: Served, api: Api) -> None:
    bench = Bench(api)
    lot = bench.cleared_lot()
    serial = bench.see(lot)["certificate_serial"]
    paper = pypdfium2.PdfDocument(api.seller.get(f"/certificates/{serial}.pdf").data)
    [code] = zxingcpp.read_barcodes(paper[0].render(scale=2).to_numpy())
    path = code.text.removeprefix("https://nursery.example")  # where the house of the tests says that it is
    assert path == f"/c/{serial}"
    with opened(house.address, PHONE) as hands:
        hands.open(path)
        told = ("Snail-clearance statement", serial, "valid", "stands today", "Anubias barteri", "20 pot")
        assert [each for each in told if each not in hands.text()] == []
        held_against_barriers(hands)
        assert hands.complaints() == []

        split = {"quantity": 5, "tub_id": bench.tub("Q7"), "reason": "another shelf"}
        api.grower.made(f"/lots/{lot}/splits", split)
        hands.open(path)
        assert "superseded" in hands.text()
        held_against_barriers(hands)
        present = bench.see(lot)["certificate_serial"]
        hands.press(present)
        assert "stands today" in hands.text()
        assert "15 pot" in hands.text()

        api.manager.made(f"/certificates/{present}/revocation", {"reason": "a customer found one"})
        hands.driver.refresh()
        assert "took this statement back" in hands.text()
        assert "a customer found one" not in hands.text()  # why is between seller and customer
        held_against_barriers(hands)

        hands.open(f"/c/{'0' * 26}")
        assert "There is no statement with this number here." in hands.text()
        held_against_barriers(hands)


def test_it_reads_the_same_with_script_off(house: Served, api: Api) -> None:
    bench = Bench(api)
    serial = bench.see(bench.cleared_lot())["certificate_serial"]
    with opened(house.address, PHONE, script=False) as hands:
        hands.open(f"/c/{serial}")
        assert "stands today" in hands.text()
