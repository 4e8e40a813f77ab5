"""What is done on the pages is what the interface does: treating, stores, sales, recalls and tubs."""

from datetime import timedelta

import pytest

from service.core.clock import utc_now
from tests.api import Api
from tests.make_house import House
from tests.make_people import Browser, shown_text


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
    assert "stems" in owner.refused("/console/mix/plan", asked)[0]
    owner.done(
        "/console/mix/plan", {**asked, "trial_stems_reason": "five stems stood it", "survived_here": "5"}
    )
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
    owner.done(f"{path}/steps/2/start", pour)
    step = api.grower.seen(f"/treatments/{treatment['id']}")["steps"][1]
    assert (step["drawn"][0]["amount"]["value"], step["poured"][0]["amount"]["value"]) == ("138.5", 138.5)
    assert "Drawn" in shown_text(owner.page)
    owner.done(f"{path}/abandon", {"reason": "they melt"})
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
    assert owner.refused(f"{path}/dispose", {**away, "quantity": "99999"})


def test_plants_are_sent_off_and_taken_back(owner: Browser, api: Api, house: House) -> None:
    owner.seen("/console/sales")
    pick = {"pick-0-lot": house.cleared, "pick-0-quantity": "6", "order_ref": "W-2", "packed": "yes"}
    page = owner.done("/console/sales/dispatch", pick)
    assert "W-2" in page
    sent = next(one for one in api.seller.seen("/dispatches")["items"] if one["order_ref"] == "W-2")
    assert sent["pack_check"]["by"] == "Ines"
    assert owner.refused("/console/sales/dispatch", {**pick, "pick-0-quantity": "999"})
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
    assert owner.refused(f"{path}/close", {"conclusion": "all well"})
    assert owner.refused(f"{path}/extend") == ["Nothing new is within reach."]


def _days_ago(*many: int) -> list[str]:
    return [str(utc_now().date() - timedelta(days=days)) for days in many]


def test_a_tub_is_set_up_read_and_measured(owner: Browser, api: Api) -> None:
    owner.seen("/console/tubs")
    owner.done("/console/tubs", {"code": "T1", "volume": "40", "volume_unit": "L", "set_point": "24"})
    [tub] = api.grower.seen("/tubs")["items"]
    path = f"/console/tubs/{tub['id']}"
    old = [{"at": f"{day}T05:00:00Z", "value": 19.5, "unit": "Cel"} for day in _days_ago(30, 29)]
    api.grower.made(f"/tubs/{tub['id']}/temperatures", {"readings": old, "late_reason": "read out late"})
    page = owner.done(f"{path}/log", {"value": "22,5"})
    assert "22.5" in page
    assert "19.5" not in page
    owner.done(f"{path}/measure", {"substance": "copper", "value": "0.4", "kit": "drop test"})
    owner.done(f"{path}/change", {"percent": "50"})
    assert owner.refused(f"{path}/log", {"log": "2020-01-01T00:00; warm"})
    assert owner.refused(f"{path}/change", {"percent": "much"})
    assert owner.refused("/console/tubs", {"code": "T1", "volume": "40", "volume_unit": "L"})


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


@pytest.mark.promise(r=20)
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
