"""Plants come in, are looked at and decided on by the pages: each act with its refusal beside it."""

from service.accounts.rules import Role
from service.core.db import Database
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_house import House
from tests.make_people import Browser, a_person, shown_text


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
    told = owner.refused("/console/receive", {**new, "lines-0-quantity": "24", "lines-0-unit": "pot"})
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
    assert "changed" in owner.refused(f"/console/lots/{lot}/decide", {"etag": stale})[0]


def test_a_grower_is_not_offered_the_decision(api: Api, database: Database, browser: Browser) -> None:
    lot = Bench(api).ready_lot()
    a_person(database, "Tobi", Role.GROWER)
    browser.sign_in("Tobi")
    assert "A manager or the owner decides." in shown_text(browser.seen(f"/console/lots/{lot}"))
    told = browser.refused(f"/console/lots/{lot}/decide", {"etag": "x"})
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
    assert owner.refused(f"{path}/reject", {"quantity": "7", "way": "destroyed", "reason": "melt"})
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
