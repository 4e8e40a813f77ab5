"""The events of the house to pull, in order, without a gap."""

from typing import Any

import pytest

from service.core.clock import utc_now
from service.core.db import Database
from service.journal.acts import Act
from service.lots.holds import place_hold
from service.lots.models import Lot
from tests.api import Api
from tests.exchange.cloud_events import faults
from tests.journeys.bench import Bench
from tests.make_lots import received_lot
from tests.make_recalls import recall, sell
from tests.make_sales import reserved


def pulled(api: Api, role: str = "auditor", limit: int = 50, **more: Any) -> list[Any]:
    """Every event, page by page, as a client gets them."""
    client, after, found = getattr(api, role), "0", []
    query = "".join(f"&{name}={value}" for name, value in more.items())
    while True:
        page = client.seen(f"/events?after={after}&limit={limit}{query}")
        found += page["items"]
        after = page["after"]
        if page["next"] is None:
            return found
        assert page["next"] == after


def test_the_life_of_a_lot_as_events(api: Api) -> None:
    bench = Bench(api)
    lot = bench.cleared_lot(20)
    serial = bench.see(lot)["certificate_serial"]
    sell(bench, lot, 6, "customer 17")
    started = recall(api, lot_id=lot)
    events = pulled(api)
    assert [fault for event in events for fault in faults(event)] == []
    of_lot = [event["type"] for event in events if event["subject"] == f"lots/{lot}"]
    assert of_lot == ["lot.received", "lot.treated", "lot.cleared", "lot.held", "lot.recalled"]
    of_certificate = [event["type"] for event in events if event["subject"] == f"certificates/{serial}"]
    assert of_certificate == ["certificate.issued", "certificate.revoked"]
    [recalled] = [event for event in events if event["type"] == "lot.recalled"]
    assert recalled["data"]["recall_id"] == started["id"]
    assert {event["source"] for event in events} == {"https://nursery.example"}
    assert len({event["id"] for event in events}) == len(events)
    assert [event["sequence"] for event in events] == sorted(event["sequence"] for event in events)
    assert "customer 17" not in str(events)
    assert "W-1" not in str(events)


def test_what_comes_back_and_cups_that_are_opened_are_told(api: Api) -> None:
    bench = Bench(api)
    lot = bench.cleared_lot(20)
    sent = sell(bench, lot, 6, "customer 17")
    body = {"dispatch_id": sent, "lines": [{"lot_id": lot, "quantity": 4}], "reason": "customer 17 has none"}
    [back] = api.grower.made("/returns", body)["lots"]
    [event] = pulled(api, "shop", type="lot.returned")
    assert event["subject"] == f"lots/{back['id']}"
    assert event["data"] == {
        "lot_id": back["id"],
        "lot_code": back["code"],
        "plant_id": back["plant"]["id"],
        "dispatch_id": sent,
        "sold_lot_id": lot,
        "sold_lot_code": bench.see(lot)["code"],
        "quantity": 4,
    }
    bench.supplier = api.grower.made("/suppliers", {"name": "Gellab", "country": "PT", "in_vitro": True})
    cups = bench.lot("anubias-barteri", 12, unit_of_sale="cup")["id"]
    seal = {"lid_whole": True, "gel_clean": True}
    bench.look(1, lot_id=cups, method="sealed_cup", seal=seal, sample_size=12)
    api.grower.made(f"/lots/{cups}/opening", {"reason": "potted by Ana"})
    [event] = pulled(api, "shop", type="lot.opened")
    assert (event["subject"], set(event["data"])) == (f"lots/{cups}", {"lot_id", "lot_code", "plant_id"})


@pytest.mark.parametrize("limit", [1, 2, 3])
def test_pages_of_any_size_give_every_event_once(api: Api, limit: int) -> None:
    for _ in range(3):
        lot = received_lot(api)["id"]
        api.grower.made(f"/lots/{lot}/losses", {"quantity": 1, "cause": "melt"})
        api.grower.made(f"/lots/{lot}/holds", {"cause": "look", "reason": "to be looked at"})
    whole = pulled(api, limit=200)
    assert len(whole) == 12
    assert pulled(api, limit=limit) == whole


def test_one_type_alone(api: Api) -> None:
    lot = received_lot(api)["id"]
    api.grower.made(f"/lots/{lot}/losses", {"quantity": 1, "cause": "melt"})
    assert [event["type"] for event in pulled(api, type="inventory.changed")] == ["inventory.changed"]
    assert api.auditor.get("/events?type=lot.eaten").status_code == 422


def test_a_shop_pulls_what_concerns_it(api: Api) -> None:
    bench = Bench(api)
    recall(api, lot_id=bench.cleared_lot(20))
    types = {event["type"] for event in pulled(api, "shop")}
    assert {"lot.cleared", "lot.recalled", "certificate.revoked", "inventory.changed"} <= types
    assert not types & {"lot.received", "lot.treated", "stock.low"}


def test_a_reader_misses_nothing_that_commits_after_what_it_has_seen(api: Api, database: Database) -> None:
    """The slower act began first; it gets its number when it commits, after the other."""
    slow, fast = received_lot(api)["id"], received_lot(api)["id"]
    seen = api.auditor.seen("/events?limit=200")["after"]
    now = utc_now()
    act = Act("tests", now, now)
    if database.engine.dialect.name == "sqlite":  # has one writer at a time: the order is that of the commits
        pytest.skip("Two writers at once need PostgreSQL.")
    with database.writer() as first, database.writer() as second:
        place_hold(first, act, first.get_one(Lot, slow), cause="look", reason="slow")
        place_hold(second, act, second.get_one(Lot, fast), cause="look", reason="fast")
        second.commit()
        page = api.auditor.seen(f"/events?after={seen}&type=lot.held")
        assert [event["subject"] for event in page["items"]] == [f"lots/{fast}"]
        first.commit()
    page = api.auditor.seen(f"/events?after={page['after']}&type=lot.held")
    assert [event["subject"] for event in page["items"]] == [f"lots/{slow}"]


def test_a_place_that_no_answer_gave_is_refused(api: Api) -> None:
    for place in ("-1", "1-", "x", "1.5", "1-2-3", ""):
        assert api.auditor.get(f"/events?after={place}").status_code == 422, place
    assert api.nobody.get("/events").status_code == 401


def test_the_next_page_is_linked_and_the_rows_can_be_had_as_csv(api: Api) -> None:
    for _ in range(2):
        received_lot(api)
    answer = api.auditor.get("/events?limit=1")
    assert f"after={answer.get_json()['next']}" in answer.headers["Link"]
    rows = api.auditor.get("/events", Accept="text/csv").get_data(as_text=True).splitlines()
    assert rows[0].split(",")[:3] == ["specversion", "id", "source"]
    assert len(rows) == 3


def test_what_is_promised_changes_the_inventory_and_what_is_cancelled_changes_it_back(api: Api) -> None:
    bench = Bench(api)
    lot = bench.cleared_lot(20)
    plant = bench.see(lot)["plant"]["id"]
    seen = pulled(api, "shop", type="inventory.changed")
    made = reserved(bench, lot, 6)
    [promised] = pulled(api, "shop", type="inventory.changed")[len(seen) :]
    assert (promised["subject"], promised["data"]) == (
        f"inventory/{plant}",
        {"plant_id": plant, "lot_ids": [lot]},
    )
    api.shop.send("DELETE", f"/reservations/{made['id']}", None)
    assert len(pulled(api, "shop", type="inventory.changed")) == len(seen) + 2
