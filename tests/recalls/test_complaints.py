"""What customers found: a hold and a new look, not a revocation; then a verdict."""

from datetime import datetime, timedelta
from typing import Any

import pytest

from service.core.ids import new_id
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_recalls import recall, sell

NOBODY = "00000000-0000-7000-8000-000000000000"
ONE_SNAIL = {"what": "one snail, customer 17 sent a picture", "pest": "bladder_snail", "photo": True}


def complain(api: Api, role: str = "seller", **body: Any) -> Any:
    return getattr(api, role).made("/complaints", {**ONE_SNAIL, **body})


def look(bench: Bench, lot: str) -> None:
    bench.api.grower.made("/inspections", {"lot_id": lot, "sample_size": 20, "findings": []})


def test_a_complaint_holds_and_owes_a_look_but_revokes_nothing(bench: Bench) -> None:
    lot = bench.cleared_lot(20)
    serial = bench.see(lot)["certificate_serial"]
    found = complain(bench.api, dispatch_id=sell(bench, lot, 6, "customer 17"), days_since_delivery=9)
    now = bench.see(lot)
    assert (now["state"], now["certificate_serial"]) == ("cleared", serial)
    assert [hold["cause"] for hold in now["holds"]] == ["complaint"]
    assert bench.api.shop.seen("/inventory")["rows"] == []
    [due] = [i for i in bench.api.grower.seen("/due-work?limit=200")["items"] if "complained" in i["detail"]]
    assert datetime.fromisoformat(due["due_at"]) == datetime.fromisoformat(found["at"]) + timedelta(hours=24)
    assert [item["id"] for item in found["trace"]["forward"]] == [lot]
    assert [item["id"] for item in found["trace"]["back"]] == [lot]
    assert [customer["customer_ref"] for customer in found["trace"]["customers"]] == ["customer 17"]
    [hidden] = bench.api.grower.seen(f"/complaints/{found['id']}")["trace"]["customers"]
    assert hidden["customer_ref"] is None
    history = str(bench.api.auditor.seen(f"/lots/{lot}/history?limit=200"))
    assert "complaint.recorded" in history
    assert "customer 17" not in history


def test_not_ours_lets_the_lot_go_once_it_was_looked_at(bench: Bench, cleared: str) -> None:
    serial = bench.see(cleared)["certificate_serial"]
    found = complain(bench.api, certificate_serial=serial)
    path = f"/complaints/{found['id']}/verdict"
    verdict = {"verdict": "not_ours", "reason": "another species"}
    refused = bench.api.manager.post(path, verdict)
    assert refused.status_code == 409
    assert refused.get_json()["reasons"][0]["code"] == "look-owed"
    look(bench, cleared)
    assert bench.api.seller.post(path, verdict).status_code == 403
    assert bench.api.manager.post(path, verdict, If_Match='"old"').status_code == 412
    tag = bench.api.manager.get(f"/complaints/{found['id']}").headers["ETag"]
    judged = bench.api.manager.made(path, {**verdict, "settlement": "credit"}, If_Match=tag)
    assert (judged["verdict"], judged["settlement"]) == ("not_ours", "credit")
    assert bench.see(cleared)["holds"] == []
    assert [row["available"] for row in bench.api.shop.seen("/inventory")["rows"]] == [20]
    assert bench.api.manager.post(path, verdict).get_json()["reasons"][0]["code"] == "judged-already"
    assert [c["id"] for c in bench.api.grower.seen("/complaints?judged=true")["items"]] == [found["id"]]
    assert bench.api.grower.seen("/complaints?judged=false")["items"] == []


def test_ours_is_followed_by_a_recall(bench: Bench, cleared: str) -> None:
    serial = bench.see(cleared)["certificate_serial"]
    found = complain(bench.api, dispatch_id=sell(bench, cleared, 6, "customer 17"), lot_id=cleared)
    ours = {"verdict": "ours", "settlement": "refund", "claim_on_supplier": True, "reason": "same batch"}
    bench.api.manager.made(f"/complaints/{found['id']}/verdict", ours)
    assert len(bench.see(cleared)["holds"]) == 1
    stopped = recall(bench.api, complaint_id=found["id"])
    assert (stopped["origin"], stopped["origin_id"]) == ("complaint", found["id"])
    assert [item["revoked_serial"] for item in stopped["lots"]] == [serial]
    assert [customer["customer_ref"] for customer in stopped["customers"]] == ["customer 17"]
    assert len(bench.see(cleared)["holds"]) == 2


def test_a_complaint_of_a_lot_sold_out_still_starts_a_trace(bench: Bench, cleared: str) -> None:
    found = complain(bench.api, dispatch_id=sell(bench, cleared, 20, "customer 17"))
    assert [(item["hold_id"], item["ended"]) for item in found["lots"]] == [(None, True)]
    assert len(found["trace"]["customers"]) == 1
    assert [c["id"] for c in bench.api.grower.seen(f"/complaints?lot={cleared}")["items"]] == [found["id"]]


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({}, "#/dispatch_id"),
        ({"dispatch_id": NOBODY, "certificate_serial": "0" * 26}, "#/dispatch_id"),
        ({"dispatch_id": NOBODY}, "#/dispatch_id"),
        ({"certificate_serial": "0" * 26}, "#/certificate_serial"),
        ({"dispatch_id": NOBODY, "what": ""}, "#/what"),
        ({"dispatch_id": NOBODY, "days_since_delivery": -1}, "#/days_since_delivery"),
    ],
)
def test_what_is_not_named_rightly_is_refused_by_its_place(api: Api, body: Any, pointer: str) -> None:
    answer = api.seller.post("/complaints", {**ONE_SNAIL, **body})
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["pointer"] == pointer


def test_what_was_not_in_the_dispatch_or_was_taken_back_is_refused(bench: Bench, cleared: str) -> None:
    sent = sell(bench, cleared, 6, "customer 17")
    for more, pointer in (({"lot_id": NOBODY}, "#/lot_id"), ({"pest": "dragon"}, "#/pest")):
        answer = bench.api.seller.post("/complaints", {**ONE_SNAIL, "dispatch_id": sent, **more})
        assert answer.get_json()["errors"][0]["pointer"] == pointer
    bench.api.manager.made(f"/dispatches/{sent}/reversal", {"reason": "typed twice"})
    answer = bench.api.seller.post("/complaints", {**ONE_SNAIL, "dispatch_id": sent})
    assert answer.get_json()["errors"][0]["pointer"] == "#/dispatch_id"
    assert bench.see(cleared)["holds"] == []
    assert bench.api.manager.get(f"/complaints/{new_id()}").status_code == 404
    assert (
        bench.api.manager.post(
            f"/complaints/{new_id()}/verdict", {"verdict": "ours", "reason": "x"}
        ).status_code
        == 404
    )
    assert bench.api.shop.post("/complaints", ONE_SNAIL).status_code == 403
