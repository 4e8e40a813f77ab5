"""What is low, short or soon out of date is noted once, becomes due work, and is over when it is over."""

import contextlib
import threading
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy.orm import Session

from service.core.clock import utc_now
from service.core.db import Database
from service.ordering.actions import check_reorder
from service.stores.expiry import check_expiry
from service.wiring import JOBS
from tests.api import Api
from tests.make_lots import tub
from tests.make_stores import batch_of, bleach, copper
from tests.make_treatments import course, lot, planned, shelf
from worker.owed import run_owed

STOCK = (
    "stock.low",
    "stock.recovered",
    "stock.short_for_course",
    "stock.enough_for_course",
    "stock.expiring",
)


def look(database: Database) -> None:
    """The worker looks at what to order and at what gets old, twice."""
    for _ in range(2):
        with database.writing() as session:
            check_reorder(session, {}, datetime.now(UTC))
            check_expiry(session, {}, datetime.now(UTC))


def noted(api: Api) -> list[str]:
    trail = api.owner.seen("/audit?limit=200")["items"]
    return [entry["kind"] for entry in trail if entry["kind"] in STOCK]


def due(api: Api, kind: str) -> list[Any]:
    items: list[Any] = api.grower.seen(f"/due-work?kind={kind}")["items"]
    return items


def dispose_of(api: Api, batch: dict[str, Any], value: float) -> None:
    body = {"batch_id": batch["id"], "quantity": {"value": value, "unit": "mL"}}
    api.grower.made("/stock-disposals", {**body, "way": "spilled", "reason": "knocked over"})


def test_a_course_that_will_come_short_is_told_once_and_until_it_is_served(
    api: Api, database: Database
) -> None:
    bottle = shelf(api)["copper-stock"]
    place = tub(database, "T1")
    treatment = course(api, place, [lot(api)], days=45)
    look(database)
    assert noted(api) == []
    dispose_of(api, bottle, 960)
    look(database)
    assert sorted(noted(api)) == ["stock.low", "stock.short_for_course"]
    [short] = [item for item in due(api, "order") if item["treatment_id"]]
    assert (short["treatment_id"], short["tub"]["id"]) == (treatment, place)
    assert "of copper-stock from" in short["detail"]
    copper(api, 1)
    look(database)
    assert sorted(noted(api)) == [
        "stock.enough_for_course",
        "stock.low",
        "stock.recovered",
        "stock.short_for_course",
    ]
    assert due(api, "order") == []


def test_a_treatment_is_short_of_bleach_when_all_there_is_may_not_be_used(
    api: Api, database: Database
) -> None:
    """Bleach has no nominal strength: what is needed is reckoned as strong as the last delivery was."""
    bottle = shelf(api)["bleach"]
    treatment = planned(api, "bleach-dip", tub(database, "T1"), [lot(api)])
    look(database)
    assert "stock.short_for_course" not in noted(api)
    patched(api, bottle, blocked=True, block_reason="recalled by its maker")
    look(database)
    [short] = [item for item in due(api, "order") if item["treatment_id"] == treatment]
    assert "of bleach from" in short["detail"]


def test_a_low_material_is_due_to_be_ordered(api: Api, database: Database) -> None:
    bottle = shelf(api)["copper-stock"]
    course(api, tub(database, "T1"), [lot(api)], days=45)
    dispose_of(api, bottle, 960)
    look(database)
    [order] = [item for item in due(api, "order") if not item["treatment_id"]]
    assert order["title"].startswith("Order ")
    assert "at or below the reorder point" in order["detail"]


def test_two_workers_at_once_note_it_once(api: Api, database: Database) -> None:
    bottle = shelf(api)["copper-stock"]
    course(api, tub(database, "T1"), [lot(api)], days=45)
    dispose_of(api, bottle, 960)
    together, faults = threading.Barrier(3), []

    def work() -> None:
        try:
            with database.writing() as session, contextlib.suppress(threading.BrokenBarrierError):
                check_reorder(session, {}, datetime.now(UTC))
                # On PostgreSQL all have looked before one is done; SQLite lets one in at a time.
                together.wait(0.3)
        except Exception as fault:  # noqa: BLE001 - whatever a worker meets fails this test
            faults.append(fault)

    threads = [threading.Thread(target=work) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    assert sorted(noted(api)) == ["stock.low", "stock.short_for_course"]


def test_stock_that_leaves_is_looked_at_without_waiting_for_the_night(api: Api, database: Database) -> None:
    bottle = shelf(api)["copper-stock"]
    course(api, tub(database, "T1"), [lot(api)], days=45)
    dispose_of(api, bottle, 960)
    later = utc_now() + timedelta(minutes=2)
    run_owed(database, JOBS, lambda: later)
    assert "stock.low" in noted(api)


def test_a_batch_that_is_soon_out_of_date_is_to_be_used_up_and_then_disposed_of(
    api: Api, database: Database
) -> None:
    today = datetime.now(UTC).date()
    soon = batch_of(api, "thiosulfate", 100, "g", expires_on=(today + timedelta(days=30)).isoformat())
    batch_of(
        api,
        "potassium-alum",
        100,
        "g",
        batch_number="later",
        expires_on=(today + timedelta(days=31)).isoformat(),
    )
    old = copper(api, expires_on=(today - timedelta(days=1)).isoformat())
    look(database)
    assert noted(api).count("stock.expiring") == 1
    assert [item["title"] for item in due(api, "use_up")] == [
        f"Use up or replace Sodium thiosulfate pentahydrate, batch {soon['batch_number']}"
    ]
    [disposal] = due(api, "dispose")
    assert disposal["title"].startswith("Dispose of ")
    assert (today - timedelta(days=1)).isoformat() in disposal["detail"]
    dispose_of(api, old, 1000)
    assert due(api, "dispose") == []


def patched(api: Api, batch: dict[str, Any], **changes: Any) -> None:
    path = f"/stock-batches/{batch['id']}"
    tag = api.grower.get(path).headers["ETag"]
    assert api.grower.send("PATCH", path, changes, headers={"If-Match": tag}).status_code == 200


def in_days(days: int) -> str:
    return (datetime.now(UTC).date() + timedelta(days=days)).isoformat()


def test_a_blocked_batch_is_not_to_be_used_up(api: Api, database: Database) -> None:
    batch = copper(api, expires_on=in_days(10))
    look(database)
    assert len(due(api, "use_up")) == 1
    patched(api, batch, blocked=True, block_reason="recalled by its maker")
    assert due(api, "use_up") == []


def test_a_batch_whose_day_was_put_right_is_no_longer_to_be_disposed_of(api: Api, database: Database) -> None:
    batch = batch_of(api, "thiosulfate", 100, "g", opened_on=in_days(-3000), expires_on=in_days(400))
    look(database)
    assert len(due(api, "dispose")) == 1
    patched(api, batch, opened_on=in_days(0))
    look(database)
    assert due(api, "dispose") == []


def test_a_batch_that_keeps_longer_than_was_thought_is_no_longer_to_be_used_up(
    api: Api, database: Database
) -> None:
    # 88 g/L at 25 °C fall to 70 % in 165 days (science.chlorine.days_until_left).
    batch = bleach(api, made_on=in_days(-150), shelf_celsius=25)
    look(database)
    assert len(due(api, "use_up")) == 1
    patched(api, batch, measured_strength={"value": 80, "unit": "g/L"})
    look(database)
    assert due(api, "use_up") == []
    assert noted(api).count("stock.expiring") == 1


def test_a_blocked_batch_is_looked_at_without_waiting_for_the_night(api: Api, database: Database) -> None:
    bottle = shelf(api)["copper-stock"]
    course(api, tub(database, "T1"), [lot(api)], days=45)
    run_owed(database, JOBS, lambda: utc_now() + timedelta(minutes=2))
    assert "stock.short_for_course" not in noted(api)
    patched(api, bottle, blocked=True, block_reason="recalled by its maker")
    run_owed(database, JOBS, lambda: utc_now() + timedelta(minutes=2))
    assert "stock.short_for_course" in noted(api)


def test_a_tested_bottle_is_looked_at_without_waiting_for_the_night(api: Api, database: Database) -> None:
    batch = bleach(api, made_on=in_days(-200), shelf_celsius=35)
    look(database)
    assert len(due(api, "dispose")) == 1
    patched(api, batch, measured_strength={"value": 80, "unit": "g/L"})
    run_owed(database, JOBS, lambda: utc_now() + timedelta(minutes=2))
    assert due(api, "dispose") == []


def test_batches_are_locked_in_the_order_of_their_ids_whatever_is_noted_of_them(
    api: Api, database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = copper(api, expires_on=in_days(-1))
    second = copper(api, expires_on=in_days(10))
    locked: list[str] = []
    refresh = Session.refresh

    def seen(session: Session, thing: Any, *names: Any, **how: Any) -> None:
        locked.append(thing.id)
        refresh(session, thing, *names, **how)

    monkeypatch.setattr(Session, "refresh", seen)
    with database.writing() as session:
        check_expiry(session, {}, datetime.now(UTC))
    assert locked == sorted([first["id"], second["id"]])
