"""What is done on the pages is what the interface does: each act with its refusal beside it."""

from typing import Any

import pytest

from service.accounts.rules import Role
from service.core.db import Database
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_house import House, a_house
from tests.make_people import Browser, a_person, problems, shown_text


@pytest.fixture
def house(api: Api) -> House:
    return a_house(api)


def refused(browser: Browser, address: str, fields: dict[str, Any]) -> list[str]:
    """What the page says when an act is refused."""
    answer = browser.send(address, fields)
    browser.page = answer.get_data(as_text=True)
    assert 400 <= answer.status_code < 500, answer.status_code
    return problems(browser.page)


def test_pasted_lines_become_lots(owner: Browser, api: Api) -> None:
    owner.seen("/console/receive")
    answer = owner.send(
        "/console/receive/read", {"pasted": "24 pots Anubias barteri\n9 bunches Nosuch plantus"}
    )
    text = answer.get_data(as_text=True)
    assert 'value="24"' in text
    assert "Which plant is this?" in text
    plant = next(
        p["id"] for p in api.grower.seen("/plants?limit=200")["items"] if p["code"] == "anubias-barteri"
    )
    line = {"lines-0-quantity": "24", "lines-0-unit": "pot", "lines-0-plant": plant}
    new = {"supplier_name": "Fenmarsh Growers", "supplier_country": "NL", "document": "NL-1"}
    page = owner.done("/console/receive", {**line, **new, "document_kind": "plant_passport"})
    assert "-001-01" in page
    assert "24 pots" in shown_text(page)


def test_a_line_without_a_plant_is_named(owner: Browser, api: Api) -> None:
    owner.seen("/console/receive")
    new = {"supplier_name": "Fenmarsh Growers", "supplier_country": "NL"}
    told = refused(owner, "/console/receive", {**new, "lines-0-quantity": "24", "lines-0-unit": "pot"})
    assert "lines, 1, plant id" in told[0]


def test_a_restricted_plant_is_warned_of(owner: Browser, api: Api) -> None:
    owner.seen("/console/receive")
    answer = owner.send("/console/receive/read", {"pasted": "5 pots Pontederia crassipes\n"})
    plants = api.grower.seen("/plants?limit=200")["items"]
    assert ("Restricted" in answer.get_data(as_text=True)) == any(
        p["restricted"] for p in plants if p["code"] == "pontederia-crassipes"
    )


def test_an_expected_shipment_is_counted_in(owner: Browser, api: Api) -> None:
    bench = Bench(api)
    line = {"plant_id": bench.plants["anubias-barteri"], "quantity": 24, "unit_of_sale": "pot"}
    body = {"supplier_id": bench.supplier["id"], "expected_on": "2030-01-01", "lines": [line]}
    made = api.grower.made("/shipments", body)
    path = f"/console/shipments/{made['id']}"
    owner.seen(path)
    page = owner.done(f"{path}/receipt", {"count-1-quantity": "22"})
    assert "22 pots" in shown_text(page)


def test_the_gates_are_shown_and_the_decision_is_offered_only_when_all_hold(owner: Browser, api: Api) -> None:
    bench = Bench(api)
    lot = bench.ready_lot()
    page = owner.seen(f"/console/lots/{lot}")
    assert "every gate holds" in page
    page = owner.done(f"/console/lots/{lot}/decide", {"etag": owner.hidden("etag"), "policy": "standard"})
    assert "Ready" in page
    assert bench.see(lot)["state"] == "cleared"


def test_a_decision_on_an_older_version_is_refused(owner: Browser, api: Api) -> None:
    bench = Bench(api)
    lot = bench.ready_lot()
    owner.seen(f"/console/lots/{lot}")
    stale = owner.hidden("etag")
    api.grower.made(f"/lots/{lot}/losses", {"quantity": 1, "cause": "melt"})
    assert "changed" in refused(owner, f"/console/lots/{lot}/decide", {"etag": stale})[0]


def test_a_grower_is_not_offered_the_decision(api: Api, database: Database, browser: Browser) -> None:
    lot = Bench(api).ready_lot()
    a_person(database, "Tobi", Role.GROWER)
    browser.sign_in("Tobi")
    assert "A manager or the owner decides." in shown_text(browser.seen(f"/console/lots/{lot}"))
    told = refused(browser, f"/console/lots/{lot}/decide", {"etag": "x"})
    assert "The role grower may not do this." in told[0]


def test_what_is_done_to_a_lot(owner: Browser, api: Api, house: House) -> None:
    lot, path = house.fresh, f"/console/lots/{house.fresh}"
    owner.seen(path)
    owner.done(f"{path}/loss", {"quantity": "2", "cause": "melt"})
    owner.done(f"{path}/hold", {"cause": "melt", "reason": "look again on Friday"})
    hold = house.bench.see(lot)["holds"][0]["id"]
    owner.done(f"{path}/holds/{hold}/lift", {"etag": owner.hidden("etag"), "reason": "they stand"})
    page = owner.done(f"{path}/split", {"quantity": "8"})
    assert "8 pots" in shown_text(page)
    owner.seen(path)
    assert refused(owner, f"{path}/reject", {"quantity": "7", "way": "destroyed", "reason": "melt"})
    owner.done(f"{path}/reject", {"quantity": "30", "way": "destroyed", "reason": "melt"})
    assert house.bench.see(lot)["state"] == "rejected"


def test_a_find_and_a_void(owner: Browser, api: Api, house: House) -> None:
    owner.seen(f"/console/look?lot={house.fresh}")
    find = {"find-0-pest": "pond_snail", "find-0-stage": "egg", "find-0-live": "2", "find-0-removed": "yes"}
    sent = {"lot": house.fresh, "method": "eyes", "sample_size": "40", "inspector": "Ines", **find}
    assert "2 pond snail (egg mass)" in shown_text(owner.done("/console/look", sent))
    look = api.grower.seen(f"/inspections?lot={house.fresh}")["items"][-1]["id"]
    page = owner.done(f"/console/looks/{look}/void", {"lot": house.fresh, "reason": "it was gravel"})
    assert "it was gravel" in page


def test_a_look_without_its_number_is_refused_and_what_was_typed_stays(owner: Browser, house: House) -> None:
    owner.seen(f"/console/look?lot={house.fresh}")
    answer = owner.send("/console/look", {"lot": house.fresh, "method": "eyes", "note": "in bad light"})
    assert answer.status_code == 422
    assert "in bad light" in answer.get_data(as_text=True)


def test_choosing_says_what_fits_and_why_not(owner: Browser, house: House) -> None:
    text = shown_text(owner.seen(f"/console/mix?lot={house.fresh}&tub={house.tubs['T2']}"))
    assert "try a few stems first" in text
    assert "not now" in text
    assert "Other plants stand in this water" in text


def test_a_treatment_is_begun_poured_and_carried_out(owner: Browser, api: Api, house: House) -> None:
    tub = house.bench.tub("T20")
    asked = {
        "protocol": "alum-soak",
        "version": "1",
        "lot": house.fresh,
        "tub": tub,
        "litres": "40",
        "litres_unit": "L",
    }
    query = "&".join(f"{name}={value}" for name, value in asked.items())
    assert "140 g" in shown_text(owner.seen(f"/console/mix/sheet?{query}"))
    assert "stems" in refused(owner, "/console/mix/plan", asked)[0]
    owner.done("/console/mix/plan", {**asked, "trial_stems_reason": "five stems stood it"})
    [treatment] = api.grower.seen(f"/treatments?lot={house.fresh}")["items"]
    path = f"/console/treatments/{treatment['id']}"
    owner.done(f"{path}/steps/1/start", {})
    owner.done(f"{path}/steps/1/finish", {"departure": "washed in a hurry"})
    pour = {
        "pour-0-batch": house.batches["alum"],
        "pour-0-unit": "g",
        "pour-0-planned": "140",
        "pour-0-value": "138,5",
    }
    page = owner.done(f"{path}/steps/2/start", pour)
    assert "138.5 g" in shown_text(page)
    page = owner.done(f"{path}/abandon", {"reason": "they melt"})
    assert api.grower.seen(f"/treatments/{treatment['id']}")["state"] == "abandoned"


def test_stock_is_received_counted_disposed_of_and_taken_back(owner: Browser, api: Api, house: House) -> None:
    material = (
        house.bench.materials["salt"]
        if "salt" in house.bench.materials
        else house.bench.materials["thiosulfate"]
    )
    owner.seen(f"/console/stores/receive?material={material}")
    sent = {"material": material, "batch_number": "S-9", "quantity": "2", "quantity_unit": "kg"}
    assert "2,000 g" in shown_text(owner.done("/console/stores/receive", sent))
    path = f"/console/stores/batches/{house.batches['alum']}"
    owner.seen(path)
    page = shown_text(owner.done(f"{path}/count", {"counted": "1990", "counted_unit": "g"}))
    assert "1,990 g" in page
    away = {"quantity": "90", "quantity_unit": "g", "way": "hazardous_waste", "reason": "damp"}
    assert "1,900 g" in shown_text(owner.done(f"{path}/dispose", away))
    entry = api.grower.seen(f"/stock-entries?batch={house.batches['alum']}")["items"][-1]["id"]
    assert "1,990 g" in shown_text(owner.done(f"{path}/entries/{entry}/reverse", {"reason": "it was dry"}))
    assert refused(owner, f"{path}/dispose", {**away, "quantity": "99999"})


def test_plants_are_sent_off_and_taken_back(owner: Browser, api: Api, house: House) -> None:
    owner.seen("/console/sales")
    pick = {"pick-0-lot": house.cleared, "pick-0-quantity": "6", "order_ref": "W-2", "packed": "yes"}
    page = owner.done("/console/sales/dispatch", pick)
    assert "W-2" in page
    sent = next(one for one in api.seller.seen("/dispatches")["items"] if one["order_ref"] == "W-2")
    assert sent["pack_check"]["by"] == "Ines"
    assert refused(owner, "/console/sales/dispatch", {**pick, "pick-0-quantity": "999"})
    owner.done(f"/console/sales/dispatches/{sent['id']}/reverse", {"reason": "never left"})
    assert house.bench.see(house.cleared)["quantity"]["left"] == 24


def test_a_certificate_is_revoked(owner: Browser, house: House) -> None:
    serial = house.bench.see(house.cleared)["certificate_serial"]
    path = f"/console/certificates/{serial}"
    owner.seen(path)
    assert "revoked" in owner.done(f"{path}/revoke", {"reason": "a snail was found"})
    assert house.bench.see(house.cleared)["state"] == "in_quarantine"


def test_a_recall_is_started_followed_and_closed(owner: Browser, api: Api, house: House) -> None:
    owner.seen("/console/recalls")
    page = owner.done("/console/recalls", {"lot_id": house.cleared, "reason": "a snail at customer 17"})
    assert "customer 17" in page
    [recall] = [one for one in api.owner.seen("/recalls")["items"] if "customer 17" in one["reason"]]
    path = f"/console/recalls/{recall['id']}"
    dispatch = api.owner.seen(f"/recalls/{recall['id']}/customers")["items"][0]["dispatch_id"]
    assert "told" in owner.done(f"{path}/told", {"dispatch_id": dispatch, "way": "phone"})
    assert refused(owner, f"{path}/close", {"conclusion": "all well"})
    owner.seen(path)
    owner.done(f"{path}/extend", {})


def test_a_tub_is_set_up_read_and_measured(owner: Browser, api: Api) -> None:
    owner.seen("/console/tubs")
    owner.done("/console/tubs", {"code": "T1", "volume": "40", "volume_unit": "L", "set_point": "24"})
    [tub] = api.grower.seen("/tubs")["items"]
    path = f"/console/tubs/{tub['id']}"
    assert "22.5" in owner.done(f"{path}/log", {"value": "22,5"})
    owner.done(f"{path}/measure", {"substance": "copper", "value": "0.4", "kit": "drop test"})
    owner.done(f"{path}/change", {"percent": "50"})
    assert refused(owner, f"{path}/log", {"log": "2020-01-01T00:00; warm"})
    assert refused(owner, f"{path}/change", {"percent": "much"})
    assert refused(owner, "/console/tubs", {"code": "T1", "volume": "40", "volume_unit": "L"})


def test_a_house_that_measures_in_us_units_is_shown_them(owner: Browser, api: Api) -> None:
    house = api.owner.get("/settings")
    api.owner.send("PATCH", "/settings", {"units": "us"}, headers={"If-Match": house.headers["ETag"]})
    api.grower.made(
        "/tubs",
        {"code": "T1", "volume": {"value": 40, "unit": "L"}, "set_point": {"value": 24, "unit": "Cel"}},
    )
    text = shown_text(owner.seen("/console/tubs"))
    assert "10.6 US gal" in text
    assert "75.2 °F" in text


def test_an_empty_form_is_answered_by_a_page_never_by_a_failure(
    owner: Browser, api: Api, house: House
) -> None:
    known = {
        "lot_id": house.fresh,
        "tub_id": house.tubs["T2"],
        "batch_id": house.batches["alum"],
        "treatment_id": house.course,
        "recall_id": house.recall,
        "serial": house.bench.see(house.cleared)["certificate_serial"],
        "shipment_id": house.bench.see(house.fresh)["shipment_id"],
        "n": 1,
        "verb": "start",
    }
    owner.seen("/console/account")
    urls = api.app.url_map.bind("nursery.example")
    for rule in api.app.url_map.iter_rules():
        if "POST" not in (rule.methods or ()) or not rule.rule.startswith("/console/"):
            continue
        if rule.endpoint == "console.sign_out":
            continue
        wanted = {name: known.get(name, house.fresh) for name in rule.arguments}
        answer = owner.send(urls.build(rule.endpoint, wanted, method="POST"))
        assert answer.status_code < 500, rule.rule
