"""A supplier's complaint deadline is due work; how his last lots came is told when ordering and receiving."""

from datetime import UTC, datetime, timedelta
from typing import Any

from tests.api import Api
from tests.make_inspections import found, look
from tests.make_lots import hours_ago, line, received_lot, shipment_body


def claims(api: Api) -> list[Any]:
    return list(api.grower.seen("/due-work?kind=claim_before")["items"])


def test_what_came_is_looked_through_before_the_supplier_takes_no_complaint_any_more(api: Api) -> None:
    deadline = hours_ago(-24)
    body = shipment_body(api, line(api), line(api, quantity=5), claim_before=deadline)
    shipment = api.grower.made("/shipments", body)
    assert shipment["claim_before"] == deadline
    first, second = (lot["id"] for lot in shipment["lots"])
    [work] = claims(api)
    assert (work["due_at"], [lot["id"] for lot in work["lots"]]) == (deadline, [first, second])
    look(api, found(dead=2), lot_id=first, sample_size=40)
    assert [lot["id"] for lot in claims(api)[0]["lots"]] == [second]
    look(api, lot_id=second, sample_size=5)
    assert claims(api) == []


def test_nothing_is_due_before_it_is_here_or_after_the_deadline(api: Api) -> None:
    tomorrow = (datetime.now(UTC) + timedelta(days=1)).date().isoformat()
    api.grower.made("/shipments", shipment_body(api, expected_on=tomorrow, claim_before=hours_ago(-72)))
    api.grower.made("/shipments", shipment_body(api, claim_before=hours_ago(1)))
    assert claims(api) == []


def test_three_infested_of_the_last_ten_lots_are_told_when_ordering_and_when_receiving(api: Api) -> None:
    tomorrow = (datetime.now(UTC) + timedelta(days=1)).date().isoformat()
    for n in range(3):
        assert api.grower.made("/shipments", shipment_body(api))["supplier_warning"] is None
        lot = received_lot(api, hours=20 - n)["id"]
        look(api, found(), lot_id=lot, sample_size=40, hours=10 - n)
    ordered = api.grower.made("/shipments", shipment_body(api, expected_on=tomorrow))
    assert ordered["supplier_warning"] == (
        "3 of the last 6 lots of this supplier came with pests. Think before you order."
    )
    came = api.grower.made(f"/shipments/{ordered['id']}/receipt", {})
    assert came["supplier_warning"] is not None
    assert api.grower.seen("/shipments")["items"][-1]["supplier_warning"] is not None
