"""Stopping what is within reach, telling its customers, and closing the recall, over HTTP."""

import threading
from datetime import datetime, timedelta
from typing import Any

import pytest
from werkzeug.test import TestResponse

from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_lots import received_lot
from tests.make_recalls import WHY, recall, sell


def work(api: Api) -> list[Any]:
    return list(api.grower.seen("/due-work?limit=200")["items"])


def test_a_recalled_lot_is_stopped_whole(bench: Bench, cleared: str) -> None:
    serial = bench.see(cleared)["certificate_serial"]
    sent = sell(bench, cleared, 6, "customer 17")
    found = recall(bench.api, "seller", lot_id=cleared)
    [stopped] = found["lots"]
    assert (stopped["lot_id"], stopped["revoked_serial"], stopped["ended"]) == (cleared, serial, False)
    now = bench.see(cleared)
    assert (now["state"], now["certificate_serial"]) == ("in_quarantine", None)
    assert [hold["cause"] for hold in now["holds"]] == ["recall"]
    assert bench.api.grower.seen(f"/certificates/{serial}")["status"] == "revoked"
    assert bench.api.shop.seen("/inventory")["rows"] == []
    [customer] = found["customers"]
    assert (customer["dispatch_id"], customer["quantity"], customer["customer_ref"]) == (
        sent,
        6,
        "customer 17",
    )
    assert found["progress"] == {
        "lots": 1,
        "looks_owed": 1,
        "customers": 1,
        "customers_to_tell": 1,
        "newly_within_reach": 0,
    }


def test_looks_and_notices_are_due_within_a_day(bench: Bench, cleared: str) -> None:
    sell(bench, cleared, 6, "customer 17")
    started = datetime.fromisoformat(recall(bench.api, lot_id=cleared)["at"])
    due = {item["kind"]: item for item in work(bench.api) if "recall" in item["detail"]}
    assert datetime.fromisoformat(due["inspect"]["due_at"]) == started + timedelta(hours=24)
    assert due["inspect"]["lots"][0]["id"] == cleared
    assert "1 dispatches" in due["tell_customers"]["title"]
    bench.api.grower.made("/inspections", {"lot_id": cleared, "sample_size": 14, "findings": []})
    assert [i["kind"] for i in work(bench.api) if "recall" in i["detail"]] == ["tell_customers"]


def test_a_lot_sold_out_has_nothing_to_hold_but_customers_to_tell(bench: Bench, cleared: str) -> None:
    sell(bench, cleared, 20, "customer 17")
    found = recall(bench.api, lot_id=cleared)
    [stopped] = found["lots"]
    assert (stopped["hold_id"], stopped["ended"]) == (None, True)
    assert bench.api.grower.seen(f"/certificates/{stopped['revoked_serial']}")["status"] == "revoked"
    assert bench.see(cleared)["state"] == "closed"
    assert found["progress"]["looks_owed"] == 0
    assert [customer["customer_ref"] for customer in found["customers"]] == ["customer 17"]


def test_a_recall_is_closed_when_all_is_looked_at_and_all_are_told(bench: Bench, cleared: str) -> None:
    sent = sell(bench, cleared, 6, "customer 17")
    path = f"/recalls/{recall(bench.api, lot_id=cleared)['id']}"
    end = {"conclusion": "Nothing was found."}
    refused = bench.api.manager.post(f"{path}/closing", end)
    assert refused.status_code == 409
    assert {reason["code"] for reason in refused.get_json()["reasons"]} == {"look-owed", "customer-not-told"}
    bench.api.grower.made("/inspections", {"lot_id": cleared, "sample_size": 14, "findings": []})
    told = {"dispatch_id": sent, "way": "phone"}
    assert bench.api.seller.made(f"{path}/notices", told)["progress"]["customers_to_tell"] == 0
    assert bench.api.seller.post(f"{path}/notices", told).status_code == 409
    assert bench.api.grower.post(f"{path}/closing", end).status_code == 403
    assert bench.api.manager.post(f"{path}/closing", end, If_Match='"old"').status_code == 412
    tag = bench.api.manager.get(path).headers["ETag"]
    closed = bench.api.manager.made(f"{path}/closing", end, If_Match=tag)
    assert (closed["state"], closed["conclusion"]) == ("closed", "Nothing was found.")
    now = bench.see(cleared)
    assert (now["holds"], now["state"]) == ([], "in_quarantine")
    assert bench.api.manager.post(f"{path}/closing", end).get_json()["reasons"][0]["code"] == "recall-closed"
    assert bench.api.seller.post(f"{path}/notices", told).get_json()["reasons"][0]["code"] == "recall-closed"
    assert bench.api.grower.seen("/recalls?state=open")["items"] == []
    assert len(bench.api.grower.seen("/recalls?state=closed")["items"]) == 1


def test_a_second_recall_of_the_same_waits_for_the_first(api: Api) -> None:
    lot = received_lot(api, hours=2)["id"]
    first = recall(api, lot_id=lot)["id"]
    again = api.manager.post("/recalls", {"lot_id": lot, "reason": WHY})
    assert again.status_code == 409
    assert first in again.get_json()["detail"]
    assert len(api.grower.seen(f"/lots/{lot}")["holds"]) == 1
    api.grower.made("/inspections", {"lot_id": lot, "sample_size": 40, "findings": []})
    api.manager.made(f"/recalls/{first}/closing", {"conclusion": "nothing"})
    assert recall(api, lot_id=lot)["id"] != first


def test_a_stale_version_stops_nothing(api: Api) -> None:
    lot = received_lot(api, hours=2)["id"]
    tag = api.manager.get(f"/lots/{lot}").headers["ETag"]
    api.grower.made(f"/lots/{lot}/losses", {"quantity": 1, "cause": "melt"})
    body = {"lot_id": lot, "reason": WHY}
    assert api.manager.post("/recalls", body, If_Match=tag).status_code == 412
    assert api.grower.seen(f"/lots/{lot}")["holds"] == []
    fresh = api.manager.get(f"/lots/{lot}").headers["ETag"]
    assert api.manager.post("/recalls", body, If_Match=fresh).status_code == 201


def test_who_to_contact_is_exported_to_those_who_contact_them(bench: Bench, cleared: str) -> None:
    sell(bench, cleared, 6, "=customer 17")
    path = f"/recalls/{recall(bench.api, lot_id=cleared)['id']}"
    text = bench.api.seller.get(f"{path}/customers", Accept="text/csv").get_data(as_text=True)
    head, row = text.splitlines()
    assert head.split(",")[:3] == ["dispatch_id", "order_ref", "customer_ref"]
    assert "'=customer 17" in row
    for role in ("grower", "auditor", "shop"):
        assert getattr(bench.api, role).get(f"{path}/customers").status_code == 403
    [seen] = bench.api.grower.seen(path)["customers"]
    assert (seen["quantity"], seen["customer_ref"], seen["order_ref"]) == (6, None, None)
    assert "customer 17" not in str(bench.api.auditor.seen(f"/lots/{cleared}/history?limit=200"))


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({}, "#/lot_id"),
        (
            {
                "lot_id": "00000000-0000-7000-8000-000000000000",
                "supplier_id": "00000000-0000-7000-8000-000000000000",
            },
            "#/lot_id",
        ),
        ({"lot_id": "00000000-0000-7000-8000-000000000000"}, "#/lot_id"),
        ({"batch_id": "00000000-0000-7000-8000-000000000000"}, "#/batch_id"),
        ({"lot_id": "00000000-0000-7000-8000-000000000000", "reason": ""}, "#/reason"),
    ],
)
def test_what_is_not_named_rightly_is_refused_by_its_place(api: Api, body: Any, pointer: str) -> None:
    answer = api.manager.post("/recalls", {"reason": WHY, **body})
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["pointer"] == pointer
    assert api.shop.post("/recalls", {"reason": WHY, **body}).status_code == 403


@pytest.mark.promise(r=6)
def test_a_sale_at_the_same_moment_is_refused_or_listed(bench: Bench, cleared: str) -> None:
    answers: dict[str, TestResponse] = {}
    start = threading.Barrier(2)
    body = {"order_ref": "W-1", "customer_ref": "customer 17", "lines": [{"lot_id": cleared, "quantity": 6}]}

    def buy() -> None:
        start.wait()
        answers["sale"] = bench.api.shop.post("/dispatches", body)

    buyer = threading.Thread(target=buy)
    buyer.start()
    start.wait()
    found = recall(bench.api, lot_id=cleared)
    buyer.join()
    listed = [
        customer["quantity"] for customer in bench.api.seller.seen(f"/recalls/{found['id']}")["customers"]
    ]
    assert (answers["sale"].status_code, listed) in [(409, []), (201, [6])]
