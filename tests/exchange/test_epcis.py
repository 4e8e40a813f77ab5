"""The life of a lot as EPCIS documents, over HTTP."""

import re
from typing import Any

from tests.api import Api
from tests.exchange.epcis_schema import faults
from tests.journeys.bench import Bench
from tests.make_lots import received_lot
from tests.make_recalls import recall, sell


def events(api: Api, query: str = "limit=200") -> list[Any]:
    """Every event, over the linked pages."""
    path, found = f"/epcis/events?{query}", []
    while True:
        answer = api.auditor.get(path)
        assert answer.status_code == 200
        assert faults(answer.get_json()) == []
        found += answer.get_json()["epcisBody"]["eventList"]
        link = re.match(r'<(.+)>; rel="next"', answer.headers.get("Link", ""))
        if link is None:
            return found
        path = link[1]


def steps(found: list[Any], name: str) -> list[tuple[str, str]]:
    """Last word of the step, and the disposition, of every event about a lot."""
    return [
        (event["bizStep"].rpartition("/")[2], event["disposition"])
        for event in found
        if name in str(event.get("quantityList"))
    ]


def test_from_receipt_to_recall(api: Api) -> None:
    bench = Bench(api)
    lot = bench.cleared_lot(20)
    sent = sell(bench, lot, 6, "customer 17")
    api.manager.made(f"/dispatches/{sent}/reversal", {"reason": "entered twice"})
    recall(api, lot_id=lot)
    found = events(api)
    sampled = [("sampling", "in_progress"), ("inspecting", "conformant")]
    water = [("inspecting", "conformant")] * 7  # strained six times, a bait once
    assert steps(found, f"urn:uuid:{lot}") == [
        ("receiving", "in_progress"),
        *sampled,
        ("holding", "non_sellable_other"),
        ("treating", "in_progress"),
        *water,
        *sampled,
        *sampled,
        ("accepting", "sellable_accessible"),
        ("shipping", "in_transit"),
        ("shipping", "in_transit"),
        ("holding", "non_sellable_other"),
        ("holding", "non_sellable_other"),
        ("holding", "recalled"),
    ]
    made, declared = [event for event in found if event["bizStep"] == "shipping"]
    assert declared["errorDeclaration"]["reason"] == "did_not_occur"
    assert declared == {**made, "errorDeclaration": declared["errorDeclaration"]}
    assert made["quantityList"] == [{"epcClass": f"urn:uuid:{lot}", "quantity": 6}]
    assert "customer 17" not in str(found)
    assert events(api, "limit=2") == found
    received_lot(api)
    assert events(api, f"limit=3&lot={lot}") == found


def test_what_a_customer_sends_back_is_a_lot_made_of_the_one_sold(api: Api) -> None:
    bench = Bench(api)
    lot = bench.cleared_lot(20)
    sent = sell(bench, lot, 6, "customer 17")
    body = {"dispatch_id": sent, "lines": [{"lot_id": lot, "quantity": 4}], "reason": "too many"}
    [back] = api.grower.made("/returns", body)["lots"]
    [event] = [one for one in events(api) if one.get("disposition") == "returned"]
    assert event["inputQuantityList"] == [{"epcClass": f"urn:uuid:{lot}", "quantity": 4}]
    assert event["outputQuantityList"] == [{"epcClass": f"urn:uuid:{back['id']}", "quantity": 4}]
    assert events(api, f"limit=200&lot={back['id']}") == [event]


def test_into_a_tub_to_another_and_a_look_that_was_wrong(api: Api) -> None:
    bench = Bench(api)
    first, second = bench.tub("Q1"), bench.tub("Q2")
    lot = bench.lot("anubias-barteri", 20)["id"]
    for day, tub in ((1, first), (2, second)):
        move = {"to": "received", "tub_id": tub, **bench.when(day)}
        api.grower.made(f"/lots/{lot}/moves", move)
    adult = {"pest": "bladder_snail", "stage": "adult", "live": 1, "dead": 0}
    found = bench.look(3, lot_id=lot, sample_size=20, findings=[adult])["id"]
    api.manager.made(f"/inspections/{found}/void", {"reason": "it was another lot"})
    told = events(api)
    moves = [(event["action"], event["parentID"]) for event in told if event["type"] == "AggregationEvent"]
    assert moves == [
        ("ADD", f"urn:uuid:{first}"),
        ("DELETE", f"urn:uuid:{first}"),
        ("ADD", f"urn:uuid:{second}"),
    ]
    looked = [event for event in told if event.get("bizStep") in {"sampling", "inspecting"}]
    assert [event.get("disposition") for event in looked] == ["in_progress", "non_conformant"] * 2
    for made, declared in zip(looked[:2], looked[2:], strict=True):
        assert declared.pop("errorDeclaration")["reason"] == "incorrect_data"
        assert declared == made


def test_with_a_prefix_of_gs1_lots_are_digital_links(api: Api) -> None:
    lot = received_lot(api)
    tag = api.owner.get("/settings").headers["ETag"]
    mine = {"gs1_prefix": "952132", "gln": "9521321000001", "time_zone": "Europe/Lisbon"}
    assert api.owner.send("PATCH", "/settings", mine, headers={"If-Match": tag}).status_code == 200
    item = {"plant_id": lot["plant"]["id"], "unit_of_sale": lot["unit_of_sale"], "sku": "W-01"}
    api.manager.made("/sales-items", {**item, "gtin": "09521321000018"})
    [event] = events(api)
    assert event["quantityList"] == [
        {"epcClass": f"https://id.gs1.org/01/09521321000018/10/{lot['code']}", "quantity": 40}
    ]
    assert event["bizLocation"] == {"id": "https://id.gs1.org/414/9521321000001"}


def test_keys_that_cannot_be_are_refused(api: Api) -> None:
    tag = api.owner.get("/settings").headers["ETag"]
    for wrong in (
        {"gln": "9521321000002", "gs1_prefix": "952132"},
        {"gln": "9521321000001"},
        {"gln": "9521321000001", "gs1_prefix": "400638"},
        {"gs1_prefix": "12"},
    ):
        answer = api.owner.send("PATCH", "/settings", wrong, headers={"If-Match": tag})
        assert answer.status_code == 422, wrong
    assert api.owner.seen("/settings")["gln"] is None


def test_a_lifted_hold_makes_a_cleared_lot_sellable_when_it_was_the_last(api: Api) -> None:
    bench = Bench(api)
    lot = bench.cleared_lot(20)
    holds = [
        api.grower.made(f"/lots/{lot}/holds", {"cause": "look", "reason": why})["id"]
        for why in ("one", "two")
    ]
    for hold in holds:
        tag = api.manager.get(f"/lots/{lot}").headers["ETag"]
        path = f"/lots/{lot}/holds/{hold}?reason=nothing+found"
        assert api.manager.send("DELETE", path, headers={"If-Match": tag}).status_code == 200
    assert steps(events(api), lot)[-3:] == [
        ("holding", "non_sellable_other"),
        ("holding", "non_sellable_other"),
        ("accepting", "sellable_accessible"),
    ]
