"""What becomes of a promise: sent in full or in part, taken back, or freed because it may not be sold."""

from tests.journeys.bench import Bench
from tests.make_quarantine import ADULT
from tests.make_sales import order, promised, reserved, seen


def test_a_dispatch_keeps_the_promise_in_parts(bench: Bench, cleared: str) -> None:
    made = reserved(bench, cleared, 20)
    bench.api.shop.made("/dispatches", order(cleared, 8, reservation_id=made["id"]))
    quantity = bench.see(cleared)["quantity"]
    assert (quantity["left"], quantity["reserved"], quantity["sold"]) == (12, 12, 8)
    sent = bench.api.shop.made("/dispatches", {"order_ref": "W-1", "reservation_id": made["id"]})
    assert sent["lines"][0]["quantity"] == 12
    assert seen(bench, made)["status"] == "fulfilled"
    assert bench.see(cleared)["state"] == "closed"
    answer = bench.api.shop.post("/dispatches", {"order_ref": "W-1", "reservation_id": made["id"]})
    assert (answer.status_code, answer.get_json()["reasons"][0]["code"]) == (409, "reservation-over")


def test_a_dispatch_under_another_order_cannot_use_the_promise(bench: Bench, cleared: str) -> None:
    made = reserved(bench, cleared, 20)
    body = order(cleared, 8, order_ref="W-2", reservation_id=made["id"])
    answer = bench.api.shop.post("/dispatches", body)
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["pointer"] == "#/order_ref"


def test_a_dispatch_taken_back_is_promised_again(bench: Bench, cleared: str) -> None:
    made = reserved(bench, cleared, 6)
    sent = bench.api.shop.made("/dispatches", order(cleared, 6, reservation_id=made["id"]))
    bench.api.manager.made(f"/dispatches/{sent['id']}/reversal", {"reason": "typed twice"})
    quantity = bench.see(cleared)["quantity"]
    assert (quantity["left"], quantity["reserved"]) == (20, 6)
    assert seen(bench, made)["status"] == "confirmed"


def test_a_live_find_frees_what_was_promised(bench: Bench, cleared: str) -> None:
    made = reserved(bench, cleared, 6)
    bench.api.grower.made("/inspections", {"lot_id": cleared, "sample_size": 14, "findings": [ADULT]})
    assert promised(bench, cleared) == 0
    assert seen(bench, made) | {"lines": []} == made | {
        "lines": [],
        "status": "freed",
        "expires_at": None,
        "version": made["version"] + 1,
    }
    history = bench.api.auditor.seen(f"/lots/{cleared}/history?limit=200")["items"]
    assert [i["after"]["quantity"] for i in history if i["kind"] == "reservation.freed"] == [6]


def test_a_lot_destroyed_frees_what_was_promised(bench: Bench, cleared: str) -> None:
    made = reserved(bench, cleared, 6)
    body = {"quantity": 20, "way": "destroyed", "reason": "melted"}
    bench.api.manager.made(f"/lots/{cleared}/rejection", body)
    assert seen(bench, made)["status"] == "freed"
