"""A complaint judged ours teaches: what looks can show, and how the supplier's lots come."""

from typing import Any

from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_lots import received_lot, supplier
from tests.make_recalls import sell

SNAIL = {"what": "snails", "pest": "bladder_snail"}
OURS = {"verdict": "ours", "reason": "the tank was new"}


def record(bench: Bench) -> Any:
    return bench.api.grower.seen(f"/suppliers/{bench.supplier['id']}/record")


def freedom(bench: Bench, lot: str) -> dict[str, Any]:
    found = bench.api.grower.seen(f"/lots/{lot}/clearance")["freedom"]
    return {judged["pest"]: judged for judged in found}


def test_an_escape_lowers_what_looks_can_prove_and_marks_the_lot_it_came_as(bench: Bench) -> None:
    sold, waiting = bench.cleared_lot(20), bench.cleared_lot(20, bench.tub("Q2"))
    before = freedom(bench, waiting)
    sent = sell(bench, sold, 6, "customer 17")
    complaint = bench.api.seller.made("/complaints", {**SNAIL, "dispatch_id": sent})
    assert freedom(bench, waiting) == before
    assert [lot["escaped"] for lot in record(bench)["lots"]] == [[], []]
    bench.api.manager.made(f"/complaints/{complaint['id']}/verdict", {**OURS, "claim_on_supplier": True})
    after = freedom(bench, waiting)
    assert after["bladder_snail"]["never_seen_share"] > before["bladder_snail"]["never_seen_share"]
    assert after["bladder_snail"]["probability"] < before["bladder_snail"]["probability"]
    assert after["pond_snail"]["never_seen_share"] == before["pond_snail"]["never_seen_share"]
    shown = record(bench)
    assert {lot["lot_id"]: lot["escaped"] for lot in shown["lots"]} == {sold: ["bladder_snail"], waiting: []}
    assert (shown["infested"], shown["of"], shown["claims"], shown["warning"]) == (1, 2, 1, None)
    assert "lot.escape_confirmed" in str(bench.api.auditor.seen(f"/lots/{sold}/history?limit=200"))


def test_what_it_was_is_said_with_the_verdict_and_must_be_known(bench: Bench, cleared: str) -> None:
    body = {"what": "something moves", "dispatch_id": sell(bench, cleared, 6, "customer 17")}
    path = f"/complaints/{bench.api.seller.made('/complaints', body)['id']}/verdict"
    refused = bench.api.manager.post(path, {**OURS, "pest": "dragon"})
    assert refused.get_json()["errors"][0]["pointer"] == "#/pest"
    assert bench.api.manager.made(path, {**OURS, "pest": "hydra"})["pest"] == "hydra"
    assert record(bench)["lots"][0]["escaped"] == ["hydra"]


def test_three_infested_of_the_last_ten_lots_warn_before_the_next_order(api: Api) -> None:
    adult = {"pest": "bladder_snail", "stage": "adult", "live": 1, "dead": 0, "removed": True}
    path = f"/suppliers/{supplier(api)}/record"
    for n in range(11):
        lot = received_lot(api, hours=20 - n)["id"]
        if n < 4:  # the first of them is the eleventh last at the end
            api.grower.made("/inspections", {"lot_id": lot, "sample_size": 40, "findings": [adult]})
            shown = api.grower.seen(path)
            assert (shown["infested"], shown["warning"] is not None) == (n + 1, n >= 2)
    shown = api.grower.seen(path)
    assert (shown["of"], shown["infested"]) == (10, 3)
    assert "3 of the last 10 lots" in shown["warning"]
    assert api.shop.get(path).status_code == 403
    assert api.grower.get("/suppliers/00000000-0000-7000-8000-000000000000/record").status_code == 404
