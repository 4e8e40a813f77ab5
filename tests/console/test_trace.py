"""Where a lot's pests may have come from and could have got to: the other lots, never the lot itself."""

from tests.journeys.bench import Bench
from tests.make_people import Browser, shown_text


def test_a_lot_that_stood_alone_has_nothing_within_reach(owner: Browser, bench: Bench) -> None:
    lot = str(bench.lot("anubias-barteri", 10)["id"])
    text = shown_text(owner.seen(f"/console/lots/{lot}/trace"))
    assert text.count("No other lot is within reach.") == 2


def test_lots_that_shared_water_are_named_on_each_others_page(owner: Browser, bench: Bench) -> None:
    tub = bench.tub("T1")
    lots = [bench.lot(plant, 10) for plant in ("anubias-barteri", "cryptocoryne-wendtii")]
    bench.treat("quarantine-only", tub, [lot["id"] for lot in lots], 0.1, [1])
    for own, other in (lots, reversed(lots)):
        page = owner.seen(f"/console/lots/{own['id']}/trace")
        assert page.count(f"/console/lots/{other['id']}") == 2  # there and back
        assert "No other lot" not in shown_text(page)
