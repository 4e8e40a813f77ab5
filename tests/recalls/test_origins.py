"""What a recall may start from, over HTTP."""

from service.core.db import Database
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_lots import hours_ago, line, received_lot, received_lots, tub
from tests.make_recalls import WHY, recall


def test_a_find_is_recalled_with_all_that_shared_its_water(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    lots = received_lots(api, *[line(api, tub_id=place)] * 2, hours=5, share_water=True)
    other = received_lot(api, hours=5, tub_id=tub(database, "T2"))["id"]
    adult = {"pest": "bladder_snail", "stage": "adult", "live": 1, "dead": 0, "removed": True}
    look = {"lot_id": lots[0]["id"], "sample_size": 40, "findings": [adult]}
    found = recall(api, inspection_id=api.grower.made("/inspections", look)["id"])
    assert {item["lot_id"] for item in found["lots"]} == {lot["id"] for lot in lots}
    assert api.grower.seen(f"/lots/{other}")["holds"] == []
    clean = api.grower.made("/inspections", {"lot_id": other, "sample_size": 40, "findings": []})["id"]
    answer = api.manager.post("/recalls", {"inspection_id": clean, "reason": WHY})
    assert answer.get_json()["errors"][0]["pointer"] == "#/inspection_id"


def test_a_supplier_is_recalled_from_a_day_on(api: Api) -> None:
    old, new = received_lot(api, hours=30)["id"], received_lot(api, hours=3)["id"]
    supplier = api.grower.seen(f"/lots/{new}")["supplier"]["id"]
    found = recall(api, supplier_id=supplier, since=hours_ago(10))
    assert [item["lot_id"] for item in found["lots"]] == [new]
    assert api.grower.seen(f"/lots/{old}")["holds"] == []


def test_a_bad_batch_is_recalled_with_the_lots_it_was_used_on(bench: Bench) -> None:
    place = bench.tub("Q1")
    batch = bench.batch("potassium-alum", 1000, "g")["id"]
    treated = bench.lot("anubias-barteri", 20)["id"]
    other = bench.lot("anubias-barteri", 20)["id"]
    unused = bench.api.manager.post("/recalls", {"batch_id": batch, "reason": WHY})
    assert unused.get_json()["errors"][0]["pointer"] == "#/batch_id"
    steps = bench.api.grower.seen("/protocols/alum-soak/versions/1")["content"]["steps"]
    hours = [step["duration"]["target_s"] / 3600 for step in steps]
    bench.treat("alum-soak", place, [treated], 0.1, hours)
    found = recall(bench.api, batch_id=batch)
    assert [item["lot_id"] for item in found["lots"]] == [treated]
    [draw] = bench.api.grower.seen(f"/stock-entries?batch={batch}&limit=200")["items"][1:]
    assert found["lots"][0]["reached_at"] == draw["at"]
    assert bench.see(other)["holds"] == []


def test_a_bad_batch_reaches_the_lots_that_were_in_the_water_it_was_poured_into(bench: Bench) -> None:
    place = bench.tub("Q1")
    batch = bench.batch("copper-stock", 2, "L", copper_form="ionic")["id"]
    treated = bench.lot("anubias-barteri", 20)["id"]
    body = {
        "protocol": "copper-course",
        "version": 1,
        "tub_id": place,
        "lot_ids": [treated],
        "trial_stems_reason": "n of this kind survived here",
        "survived_here": 5,
        **bench.when(0.1),
    }
    steps = f"/treatments/{bench.api.grower.made('/treatments', body)['id']}/steps"
    for step, day in (("1/start", 0.1), ("1/finish", 0.11), ("2/start", 0.11)):
        bench.api.grower.made(f"{steps}/{step}", bench.when(day))
    bench.api.grower.made(f"/tubs/{place}/water-changes", {**bench.when(3), "fraction": 1, "redose": True})
    later = recall(bench.api, batch_id=batch, since=bench.when(2)["at"])
    assert [(item["lot_id"], item["reached_at"]) for item in later["lots"]] == [
        (treated, bench.when(3)["at"])
    ]


def test_a_recalled_supplier_loses_certificates_and_promises_of_what_is_still_here(api: Api) -> None:
    bench = Bench(api)
    lot = bench.cleared_lot(20)
    serial = bench.see(lot)["certificate_serial"]
    body = {"order_ref": "W-9", "lines": [{"lot_id": lot, "quantity": 5}]}
    promised = api.shop.made("/reservations", body)
    found = recall(api, supplier_id=bench.supplier["id"], since=hours_ago(24 * 60))
    assert [(stopped["lot_id"], stopped["revoked_serial"]) for stopped in found["lots"]] == [(lot, serial)]
    assert bench.see(lot)["quantity"]["reserved"] == 0
    assert api.shop.seen(f"/reservations/{promised['id']}")["status"] == "freed"
    due = [item for item in api.grower.seen("/due-work?kind=inspect")["items"] if "recall" in item["detail"]]
    assert [item["lots"][0]["id"] for item in due] == [lot]
