"""Lots that are not ordinary, on the pages: with parts, in sealed cups, and sent back by a customer."""

from service.accounts.rules import Role
from service.core.db import Database
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_inspections import found
from tests.make_lots import plant, received_lot
from tests.make_people import Browser, a_person, shown_text

LAYERS = [{"name": "top", "quantity": 300}, {"name": "bottom", "quantity": 100}]


def told(page: str) -> str:
    return " ".join(shown_text(page).split())


def test_layers_are_typed_at_receipt_and_each_is_asked_for_at_a_look(owner: Browser, api: Api) -> None:
    owner.seen("/console/receive")
    line = {"lines-0-quantity": "400", "lines-0-unit": "pot", "lines-0-plant": plant(api)}
    new = {"supplier_name": "Fenmarsh Growers", "supplier_country": "NL"}
    owner.done("/console/receive", {**line, **new, "lines-0-parts": "top 300; bottom 100"})
    [lot] = api.grower.seen("/lots")["items"]
    assert lot["strata"] == [{**layer, "plant_id": None} for layer in LAYERS]
    assert "top: 300; bottom: 100" in told(owner.seen(f"/console/lots/{lot['id']}"))
    page = owner.seen(f"/console/look?lot={lot['id']}")
    wanted = api.grower.seen(f"/lots/{lot['id']}/clearance")["look_plan"]["strata"]
    assert [f'value="{part["look_at"]}"' in page for part in wanted] == [True, True]
    assert 'name="sample_size"' not in page
    parts = {"part-0-name": "top", "part-0-looked_at": "70", "part-1-name": "bottom"}
    sent = {"lot": lot["id"], "method": "eyes", **parts}
    assert "There were only 100" in owner.refused("/console/look", {**sent, "part-1-looked_at": "101"})[0]
    owner.done("/console/look", {**sent, "part-1-looked_at": "25"})
    [look] = api.grower.seen(f"/inspections?lot={lot['id']}")["items"]
    assert (look["sample_size"], [part["looked_at"] for part in look["strata"]]) == (95, [70, 25])


def test_of_a_lot_with_parts_a_bait_asks_for_none(owner: Browser, api: Api) -> None:
    bench = Bench(api)
    lot = bench.lot("anubias-barteri", 400, strata=LAYERS)["id"]
    bench.treat("quarantine-only", bench.tub("Q1"), [lot], 0.1, [1])
    assert '<option value="bait_night" selected>' in owner.seen(f"/console/look?lot={lot}&method=bait_night")
    parts = {"part-0-name": "top", "part-0-looked_at": "70", "part-1-name": "bottom"}
    owner.done("/console/look", {"lot": lot, "method": "bait_night", **parts})
    [look] = api.grower.seen(f"/inspections?lot={lot}")["items"]
    assert (look["method"], look["strata"]) == ("bait_night", [])


def test_a_gap_without_a_look_and_baits_over_night_are_told_on_the_page(owner: Browser, api: Api) -> None:
    bench = Bench(api)
    tub = bench.tub("G1")
    lot = bench.lot("anubias-barteri", 20)["id"]
    bench.treat("quarantine-only", tub, [lot], 0.1, [1])
    bench.logger(tub, 0, bench.age, 24)
    bench.look(5, lot_id=lot, sample_size=20, findings=[found("trumpet_snail", live=0, dead=1)])
    bench.look(40, lot_id=lot, sample_size=20)
    page = owner.seen(f"/console/lots/{lot}")
    text = told(page)
    assert "1 look up to" in text
    assert "no longer counts" in text
    assert "Look again before" in text
    assert "baits left over night: bait over night, 0 of 3" in text
    assert f"/console/look?lot={lot}&amp;method=bait_night" in page


def test_kinds_that_were_counted_become_lots_of_their_own(owner: Browser, api: Api) -> None:
    owner.seen("/console/receive")
    line = {"lines-0-quantity": "40", "lines-0-unit": "pot", "lines-0-plant": plant(api)}
    new = {"supplier_name": "Fenmarsh Growers", "supplier_country": "NL"}
    parts = {"lines-0-parts": "30 anubias; Taxiphyllum barbieri 9"}
    assert "parts" in owner.refused("/console/receive", {**line, **new, **parts})[0]
    assert 'value="30 anubias; Taxiphyllum barbieri 9"' in owner.page
    parts = {"lines-0-parts": "30 anubias; Taxiphyllum barbieri 10"}
    page = told(owner.done("/console/receive", {**line, **new, **parts}))
    assert "30 pots" in page
    assert "10 pots" in page
    kinds = {lot["plant"]["id"]: lot["quantity"]["left"] for lot in api.grower.seen("/lots")["items"]}
    assert kinds == {plant(api): 30, plant(api, "taxiphyllum-barbieri"): 10}


def test_sealed_cups_are_looked_at_and_opened(owner: Browser, api: Api) -> None:
    body = {"name": "Gellab", "country": "PT", "in_vitro": True}
    bench = Bench(api, 10)
    bench.supplier = api.grower.made("/suppliers", body)
    lot = bench.lot("anubias-barteri", 12, unit_of_sale="cup")["id"]
    page = owner.seen(f"/console/look?lot={lot}&method=sealed_cup")
    assert '<option value="sealed_cup" selected>' in page
    sent = {"lot": lot, "method": "sealed_cup", "sample_size": "12"}
    assert owner.refused("/console/look", sent)
    assert "found whole" in told(owner.done("/console/look", {**sent, "sealed": "yes"}))
    path = f"/console/lots/{lot}"
    assert owner.refused(f"{path}/opening", {})
    text = told(owner.done(f"{path}/opening", {"reason": "potted for the shop"}))
    assert "Cups opened" in text
    assert "found whole" not in text
    assert bench.see(lot)["sealed_since"] is None


def test_what_a_customer_sends_back_is_received_anew(owner: Browser, api: Api, database: Database) -> None:
    bench = Bench(api)
    lot, place = bench.cleared_lot(20), bench.tub("R1")
    line = {"lot_id": lot, "quantity": 6}
    sent = api.shop.made("/dispatches", {"order_ref": "W-1", "customer_ref": "c 17", "lines": [line]})
    path = f"/console/dispatches/{sent['id']}"
    owner.seen(f"{path}?order=W-1")
    back = {"order": "W-1", "back-0-lot": lot, "back-0-quantity": "7", "reason": "too many"}
    assert owner.refused(f"{path}/return", back)
    assert 'value="too many"' in owner.page
    assert owner.refused(f"{path}/return", {**back, "back-0-quantity": ""})
    page = told(owner.done(f"{path}/return", {**back, "back-0-quantity": "4", "tub_id": place}))
    assert "Came back as" in page
    assert "4 came back" in page
    [made] = [one for one in api.grower.seen("/lots")["items"] if one["returned_from_id"] == lot]
    assert (made["quantity"]["left"], made["tub_id"], made["state"]) == (4, place, "received")
    assert f"{made['code']}" in page
    assert "Sent back by a customer" in told(owner.seen(f"/console/lots/{made['id']}"))
    a_person(database, "Sol", Role.SELLER)
    owner.done("/console/sign-out")
    owner.sign_in("Sol")
    assert "Receive it anew" not in owner.seen(f"{path}?order=W-1")


def test_the_registration_number_is_printed_where_it_was_asked_for(owner: Browser, api: Api) -> None:
    lot = Bench(api).cleared_lot(20)
    house = api.owner.get("/settings")
    number = {"registration_number": "PT-0000-12"}
    api.owner.send("PATCH", "/settings", number, headers={"If-Match": house.headers["ETag"]})
    for order, more in (("W-1", {}), ("W-2", {"with_registration": "yes"})):
        owner.seen("/console/sales")
        pick = {"pick-0-lot": lot, "pick-0-quantity": "2", "order_ref": order, **more}
        owner.done("/console/sales/dispatch", pick)
    shown = {one["order_ref"]: one["id"] for one in api.seller.seen("/dispatches")["items"]}
    printed = [
        "PT-0000-12" in owner.seen(f"/console/dispatches/{id_}?order={order}")
        for order, id_ in sorted(shown.items())
    ]
    assert printed == [False, True]


def test_what_is_no_lot_with_parts_is_looked_at_as_before(owner: Browser, api: Api) -> None:
    page = owner.seen(f"/console/look?lot={received_lot(api)['id']}")
    assert 'name="sample_size"' in page
    assert "part-0-name" not in page
