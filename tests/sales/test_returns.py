"""What customers send back is a new lot that begins anew, never back on the shelf (decision 23)."""

from typing import Any

from service.core.db import Database
from tests.journeys.bench import Bench
from tests.make_inspections import found
from tests.make_treatments import NOWHERE
from tests.unchanged import unchanged


def sent(bench: Bench, lot: str, quantity: int = 6, **more: Any) -> Any:
    line = {"lot_id": lot, "quantity": quantity}
    body = {"order_ref": "W-1", "customer_ref": "customer 17", "lines": [line]}
    return bench.api.shop.made("/dispatches", {**body, **more})


def back(dispatch: Any, lot: str, quantity: int, **more: Any) -> dict[str, Any]:
    lines = [{"lot_id": lot, "quantity": quantity}]
    return {"dispatch_id": dispatch["id"], "lines": lines, "reason": "he ordered too many", **more}


def test_what_comes_back_is_a_new_lot_without_anything_that_was_shown_of_the_old(bench: Bench) -> None:
    lot = bench.cleared_lot(20)
    before, dispatch = bench.see(lot), sent(bench, lot)
    place = bench.tub("R1")
    [made] = bench.api.grower.made("/returns", back(dispatch, lot, 4, tub_id=place))["lots"]
    assert (made["code"], made["state"], made["returned_from_id"]) == (
        f"{before['code']}-R1",
        "received",
        lot,
    )
    assert (made["quantity"]["left"], made["tub_id"], made["parent_lot_id"]) == (4, place, None)
    assert made["supplier_treatment_unknown"] is True  # nobody knows what the customer did with them
    shut = {code for code, gate in bench.gates(made["id"]).items() if not gate["ok"]}
    assert {"protocol_done", "hatch_out", "clean_inspections", "residue"} <= shut
    # what was sold stays sold, and nothing of it is for sale again
    assert bench.see(lot)["quantity"] == {**before["quantity"], "left": 14, "sold": 6}
    [row] = bench.api.shop.seen("/inventory")["rows"]
    assert (row["cleared"], row["available"]) == (14, 14)
    [shown] = bench.api.shop.seen("/dispatches")["items"]
    assert [(line["quantity"], line["returned"]) for line in shown["lines"]] == [(6, 4)]


def test_no_more_comes_back_than_was_sent(bench: Bench, database: Database, cleared: str) -> None:
    dispatch = sent(bench, cleared)
    bench.api.grower.made("/returns", back(dispatch, cleared, 4))
    with unchanged(database):
        refused = bench.api.grower.post("/returns", back(dispatch, cleared, 3))
    assert (refused.status_code, refused.get_json()["errors"][0]["pointer"]) == (422, "#/lines/0/quantity")
    [made] = bench.api.grower.made("/returns", back(dispatch, cleared, 2))["lots"]
    assert made["code"].endswith("-R2")


def test_what_came_back_was_sent_so_its_dispatch_was_no_mistake(bench: Bench, cleared: str) -> None:
    dispatch = sent(bench, cleared)
    bench.api.grower.made("/returns", back(dispatch, cleared, 1))
    refused = bench.api.manager.post(f"/dispatches/{dispatch['id']}/reversal", {"reason": "a slip"})
    assert (refused.status_code, refused.get_json()["type"]) == (409, "/problems/has-returns")


def test_of_a_dispatch_that_never_was_nothing_comes_back(
    bench: Bench, database: Database, cleared: str
) -> None:
    dispatch = sent(bench, cleared)
    bench.api.manager.made(f"/dispatches/{dispatch['id']}/reversal", {"reason": "a slip"})
    tries = {409: back(dispatch, cleared, 1), 422: back({"id": NOWHERE}, cleared, 1)}
    for status, body in tries.items():
        with unchanged(database):
            assert bench.api.grower.post("/returns", body).status_code == status
    late = back(dispatch, cleared, 1, **bench.when(48))
    assert bench.api.shop.post("/returns", late).status_code == 403


def test_nothing_comes_back_before_it_was_sent(bench: Bench, cleared: str) -> None:
    refused = bench.api.grower.post("/returns", back(sent(bench, cleared), cleared, 1, **bench.when(49)))
    assert refused.get_json()["errors"][0]["pointer"] == "#/at"


def test_tracing_leads_to_what_came_back_and_from_it(bench: Bench, cleared: str) -> None:
    [made] = bench.api.grower.made("/returns", back(sent(bench, cleared), cleared, 4))["lots"]
    forward = bench.api.manager.seen(f"/lots/{cleared}/trace?direction=forward")
    assert made["id"] in {one["id"] for one in forward["lots"]}
    backward = bench.api.manager.seen(f"/lots/{made['id']}/trace?direction=back")
    assert cleared in {one["id"] for one in backward["lots"]}


def test_a_find_in_what_came_back_is_no_find_in_what_is_on_the_shelf(bench: Bench) -> None:
    lot = bench.cleared_lot(20)
    [made] = bench.api.grower.made("/returns", back(sent(bench, lot), lot, 4))["lots"]
    bench.api.grower.made("/inspections", {"lot_id": made["id"], "sample_size": 4, "findings": [found()]})
    assert bench.see(lot)["state"] == "cleared"
    record = bench.api.manager.seen(f"/suppliers/{bench.supplier['id']}/record")
    assert made["code"] not in str(record)


def test_the_registration_number_is_printed_where_it_is_asked_for(
    bench: Bench, database: Database, cleared: str
) -> None:
    line = {"lot_id": cleared, "quantity": 2}
    body = {"order_ref": "W-2", "lines": [line], "with_registration": True}
    with unchanged(database):
        refused = bench.api.shop.post("/dispatches", body)
    assert refused.get_json()["errors"][0]["pointer"] == "#/with_registration"
    tag = bench.api.owner.get("/settings").headers["ETag"]
    number = {"registration_number": "PT-00-0000"}
    assert bench.api.owner.send("PATCH", "/settings", number, headers={"If-Match": tag}).status_code == 200
    assert bench.api.shop.made("/dispatches", body)["registration_number"] == "PT-00-0000"
    plain = {**body, "order_ref": "W-3", "with_registration": False}
    assert bench.api.shop.made("/dispatches", plain)["registration_number"] is None
