"""The main job as a client sees it: from a shipment to a certificate, step by step."""

from typing import Any

from tests.api import Api
from tests.journeys.bench import Bench


def alum_lot(bench: Bench, quantity: int = 30) -> tuple[str, str]:
    """A lot soaked in alum on day 0 and put in quarantine."""
    bench.batch("potassium-alum", 1000, "g")
    tub = bench.tub("Q1")
    lot = bench.lot("leptochilus-pteropus", quantity)["id"]
    steps = bench.api.grower.seen("/protocols/alum-soak/versions/1")["content"]["steps"]
    hours = [step["duration"]["target_s"] / 3600 for step in steps]
    bench.look(0.02, lot_id=lot, sample_size=quantity, findings=[egg(3)])
    bench.treat("alum-soak", tub, [lot], 0.1, hours)
    return lot, tub


def egg(live: int) -> dict[str, Any]:
    return {"pest": "bladder_snail", "stage": "egg", "live": live, "dead": 0, "removed": True}


def test_a_lot_is_carried_from_a_shipment_to_a_certificate(api: Api) -> None:
    bench = Bench(api)
    lot, tub = alum_lot(bench)
    assert bench.see(lot)["state"] == "in_quarantine"
    assert bench.see(lot)["clock_started_at"] is None  # alum's adult kill is graded C: two clean looks first

    refused = bench.clear(lot)
    assert refused.status_code == 409
    assert {reason["code"] for reason in refused.get_json()["reasons"]} >= {"hatch_out", "clean_inspections"}

    bench.logger(tub, 0, bench.age, 22)
    bench.strain(tub, 6, 44)
    bench.look(10, tub_id=tub, method="bait")
    assert bench.see(lot)["clock_started_at"] == bench.when(6)["at"]

    bench.look(45, lot_id=lot, sample_size=30)
    bench.look(49, lot_id=lot, sample_size=30)
    gates = bench.gates(lot)
    assert all(gate["ok"] for gate in gates.values()), [gate for gate in gates.values() if not gate["ok"]]

    decided = bench.clear(lot)
    assert decided.status_code == 201
    body = decided.get_json()
    assert body["lot"]["state"] == "cleared"
    assert body["lot"]["certificate_serial"] == body["certificate"]["serial"]
    assert api.auditor.seen(f"/certificates/{body['certificate']['serial']}/replay")["outcome"] == "same"
    assert [item["id"] for item in api.seller.seen("/lots?ready=true")["items"]] == [lot]

    sale = {"order_ref": "W-1001", "customer_ref": "customer 17", "lines": [{"lot_id": lot, "quantity": 6}]}
    assert api.shop.post("/dispatches", sale).status_code == 201
    assert bench.see(lot)["quantity"] == {
        **dict.fromkeys(("gained", "reserved", "lost", "split_off", "disposed"), 0),
        "received": 30,
        "left": 24,
        "sold": 6,
    }


def test_a_late_look_that_found_something_revokes_the_certificate(api: Api) -> None:
    bench = Bench(api)
    lot = bench.cleared_lot()
    serial = bench.see(lot)["certificate_serial"]
    adult = {"pest": "ramshorn_snail", "stage": "adult", "live": 1, "dead": 0, "removed": True}
    bench.look(bench.age - 2, lot_id=lot, sample_size=20, findings=[adult])
    after = bench.see(lot)
    assert after["state"] == "in_quarantine"
    assert after["certificate_serial"] is None
    assert api.auditor.seen(f"/certificates/{serial}")["status"] == "revoked"


def test_a_find_in_shared_water_takes_the_neighbours_certificate_too(api: Api) -> None:
    bench = Bench(api)
    system = api.grower.made("/water-systems", {"name": "sump A"})["id"]
    first, second = bench.tub("A1", water_system_id=system), bench.tub("A2", water_system_id=system)
    neighbour = bench.lot("anubias-barteri", 10)["id"]
    bench.treat("quarantine-only", second, [neighbour], 0.1, [1])
    lot = bench.lot("anubias-barteri", 10)["id"]
    joined = {"protocol": "quarantine-only", "version": 1, "tub_id": first, "lot_ids": [lot]}
    assert api.grower.post("/treatments", {**joined, **bench.when(0.2)}).status_code == 409
    assert (
        api.grower.post("/treatments", {**joined, **bench.when(0.2), "share_water": True}).status_code == 201
    )
    adult = {"pest": "bladder_snail", "stage": "adult", "live": 1, "dead": 0, "removed": True}
    bench.look(3, lot_id=neighbour, sample_size=10, findings=[adult])
    assert bench.see(lot)["clock_started_at"] != bench.when(0)["at"]
    history = [item["kind"] for item in api.auditor.seen(f"/lots/{lot}/history")["items"]]
    assert "inspection.found_live" in history


def test_what_is_left_of_a_bottle_is_what_was_received_less_what_was_poured(api: Api) -> None:
    bench = Bench(api)
    alum_lot(bench)
    [batch] = api.grower.seen("/stock-batches")["items"]
    drawn = sum(-float(entry["amount"]["value"]) for entry in api.grower.seen("/stock-entries")["items"][1:])
    assert float(batch["balance"]["value"]) == 1000 - drawn
    rows = api.grower.seen(
        f"/reports/consumption?from={bench.start.date()}&to={bench.start.date()}&by=material"
    )["rows"]
    assert rows or drawn
