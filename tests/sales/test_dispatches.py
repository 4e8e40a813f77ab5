"""Dispatches: all lines or none, never more than is left, never what is not cleared."""

import threading
from typing import Any

import pytest
from sqlalchemy import event
from werkzeug.test import TestResponse

from service.core.db import Database
from tests.journeys.bench import Bench


def order(lot: str, quantity: int, **more: Any) -> dict[str, Any]:
    line = {"lot_id": lot, "quantity": quantity}
    return {"order_ref": "W-1", "customer_ref": "customer 17", "lines": [line], **more}


def test_what_is_sold_leaves_the_lot_and_the_inventory(bench: Bench) -> None:
    lot = bench.cleared_lot(20)
    sent = bench.api.shop.made("/dispatches", order(lot, 6))
    assert sent["lines"] == [
        {"lot_id": lot, "lot_code": bench.see(lot)["code"], "sku": None, "quantity": 6, "returned": 0}
    ]
    [row] = bench.api.shop.seen("/inventory")["rows"]
    assert (row["cleared"], row["available"]) == (14, 14)


def test_who_took_the_last_glance_is_kept_with_the_dispatch(bench: Bench, cleared: str) -> None:
    glance = {"by": "Ines", "at": bench.when(49)["at"], "ok": True}
    bench.api.shop.made("/dispatches", order(cleared, 6, pack_check=glance))
    [sent] = bench.api.shop.seen("/dispatches")["items"]
    assert (sent["pack_check"]["by"], sent["pack_check"]["ok"]) == ("Ines", True)


def test_a_lot_sold_out_is_closed(bench: Bench, cleared: str) -> None:
    bench.api.shop.made("/dispatches", order(cleared, 20))
    assert bench.see(cleared)["state"] == "closed"


def test_more_than_is_left_is_refused_and_nothing_leaves(bench: Bench, cleared: str) -> None:
    lines = [{"lot_id": cleared, "quantity": 15}, {"lot_id": cleared, "quantity": 6}]
    answer = bench.api.shop.post("/dispatches", {**order(cleared, 1), "lines": lines})
    assert answer.status_code == 409
    assert answer.get_json()["reasons"][0] | {"detail": ""} == {
        "code": "not-enough-left",
        "detail": "",
        "needed": 21,
        "have": 20,
    }
    assert bench.see(cleared)["quantity"]["left"] == 20


def test_what_is_not_cleared_or_held_is_refused(bench: Bench) -> None:
    fresh = bench.lot("anubias-barteri", 5)["id"]
    assert (
        bench.api.shop.post("/dispatches", order(fresh, 1)).get_json()["reasons"][0]["code"] == "not-cleared"
    )
    lot = bench.cleared_lot(20)
    bench.api.seller.made(f"/lots/{lot}/holds", {"cause": "doubt", "reason": "a customer called"})
    assert bench.api.shop.post("/dispatches", order(lot, 1)).get_json()["reasons"][0]["code"] == "held"
    assert bench.api.shop.seen("/inventory")["rows"] == []


def test_an_unknown_lot_is_named_by_its_place(bench: Bench) -> None:
    answer = bench.api.shop.post("/dispatches", order("00000000-0000-7000-8000-000000000000", 1))
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["pointer"] == "#/lines/0/lot_id"


@pytest.mark.parametrize("quantity", [0, -1, 1.5, "2", True, 10**9])
def test_a_quantity_that_cannot_be_is_refused(bench: Bench, quantity: object) -> None:
    body = order("00000000-0000-7000-8000-000000000000", 1)
    body["lines"][0]["quantity"] = quantity
    answer = bench.api.shop.post("/dispatches", body)
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["pointer"] == "#/lines/0/quantity"


def test_a_mistaken_entry_is_taken_back_once(bench: Bench, cleared: str) -> None:
    sent = bench.api.shop.made("/dispatches", order(cleared, 6))
    path = f"/dispatches/{sent['id']}/reversal"
    taken_back = bench.api.manager.made(path, {"reason": "typed twice"})
    assert taken_back["reversal_reason"] == "typed twice"
    assert bench.see(cleared)["quantity"]["left"] == 20
    assert bench.api.manager.post(path, {"reason": "again"}).status_code == 409
    assert bench.api.shop.post(path, {"reason": "x"}).status_code == 403


def test_the_journal_tells_customers_apart_but_does_not_name_them(bench: Bench, cleared: str) -> None:
    for reference in ("customer 17", "customer 17", "customer 18"):
        bench.api.shop.made("/dispatches", order(cleared, 1, customer_ref=reference))
    history = bench.api.auditor.seen(f"/lots/{cleared}/history?limit=200")
    told = [item["after"]["customer"] for item in history["items"] if item["kind"] == "dispatch.made"]
    assert told[0] == told[1] != told[2]
    assert "customer 17" not in str(history)


def test_a_revoked_certificate_names_the_orders_to_tell(bench: Bench, cleared: str) -> None:
    bench.api.shop.made("/dispatches", order(cleared, 6, order_ref="W-7"))
    adult = {"pest": "bladder_snail", "stage": "adult", "live": 1, "dead": 0, "removed": True}
    bench.api.grower.made("/inspections", {"lot_id": cleared, "sample_size": 14, "findings": [adult]})
    history = bench.api.auditor.seen(f"/lots/{cleared}/history?limit=200")["items"]
    assert [item["after"]["orders"] for item in history if item["kind"] == "lot.customers_to_tell"] == [
        ["W-7"]
    ]


@pytest.mark.promise(r=5)
def test_the_last_units_are_sold_once_however_many_ask(bench: Bench, cleared: str) -> None:
    answers: list[TestResponse] = []
    start = threading.Barrier(4)

    def buy() -> None:
        start.wait()
        answers.append(bench.api.shop.post("/dispatches", order(cleared, 8)))

    threads = [threading.Thread(target=buy) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    statuses = sorted(answer.status_code for answer in answers)
    assert statuses == [201, 201, 409, 409]
    assert bench.see(cleared)["quantity"]["left"] == 4


def test_a_reversal_locks_the_lots_before_the_dispatch(
    bench: Bench, database: Database, database_kind: str
) -> None:
    if database_kind == "sqlite":
        pytest.skip("SQLite locks the whole file")
    lot = bench.cleared_lot(20)
    sent = bench.api.shop.made("/dispatches", order(lot, 6))
    locked: list[str] = []

    def note(_conn: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        if "FOR UPDATE" in statement:
            locked.append(statement.split("FROM ")[1].split(maxsplit=1)[0])

    event.listen(database.engine, "before_cursor_execute", note)
    bench.api.manager.made(f"/dispatches/{sent['id']}/reversal", {"reason": "typed twice"})
    event.remove(database.engine, "before_cursor_execute", note)
    assert locked.index("lot") < locked.index("dispatch")


def test_a_dispatch_that_is_not_there_is_not_taken_back(bench: Bench) -> None:
    path = "/dispatches/00000000-0000-7000-8000-000000000000/reversal"
    assert bench.api.manager.post(path, {"reason": "typed twice"}).status_code == 404
