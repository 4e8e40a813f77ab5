"""Tubs that join a water system or leave it: what was shared is judged by the plumbing of its time."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import pytest

from service.core.db import Database
from service.lots.sharing import reach_since_clock
from service.tubs.models import FormerWater, Tub
from tests.api import Api
from tests.make_inspections import found, look
from tests.make_lots import LATE, hours_ago, received_lot, tub, water_system


def plumbed(database: Database, tub_id: str, system: str | None, *, hours: float) -> None:
    """So many hours ago a tub was joined to a water system, or parted from the one it was part of."""
    with database.writing() as session:
        changed, until = session.get_one(Tub, tub_id), datetime.now(UTC) - timedelta(hours=hours)
        session.add(FormerWater(tub_id=tub_id, water_system_id=changed.water_system_id, until=until))
        changed.water_system_id = system


def moved(api: Api, lot_id: str, tub_id: str, *, hours: float) -> None:
    body = {"tub_id": tub_id, "at": hours_ago(hours), "late_reason": LATE}
    api.grower.made(f"/lots/{lot_id}/moves", body)


def reached(database: Database, lot_id: str) -> Sequence[str]:
    with database.reading() as session:
        return [lot.id for lot in reach_since_clock(session, [lot_id], datetime.now(UTC))]


def kinds(api: Api, lot_id: str) -> list[str]:
    return [item["kind"] for item in api.auditor.seen(f"/lots/{lot_id}/history")["items"]]


@pytest.fixture
def system(database: Database) -> str:
    return water_system(database)


@pytest.fixture
def neighbour(api: Api, database: Database, system: str) -> str:
    """A lot that stands in the water system all the time."""
    return str(received_lot(api, hours=20, tub_id=tub(database, "T2", system=system))["id"])


@pytest.fixture
def joined_after(api: Api, database: Database, system: str, neighbour: str) -> tuple[str, str]:
    """A tub that was joined to the neighbour's filter after its lot had left it, and that lot."""
    place = tub(database, "T1")
    lot = str(received_lot(api, hours=20, tub_id=place)["id"])
    moved(api, lot, tub(database, "T3"), hours=8)
    plumbed(database, place, system, hours=6)
    return place, lot


@pytest.fixture
def left_after(api: Api, database: Database, system: str, neighbour: str) -> tuple[str, str]:
    """A tub that was parted from the neighbour's filter after its lot had left it, and that lot."""
    place = tub(database, "T1", system=system)
    body = {"tub_id": place, "share_water": True, "at": hours_ago(19), "late_reason": LATE}
    lot = str(received_lot(api, hours=20)["id"])
    api.grower.made(f"/lots/{lot}/moves", body)
    moved(api, lot, tub(database, "T3"), hours=8)
    plumbed(database, place, None, hours=6)
    return place, lot


def test_who_left_before_the_tubs_were_joined_shared_nothing(
    api: Api, database: Database, neighbour: str, joined_after: tuple[str, str]
) -> None:
    _, lot = joined_after
    assert reached(database, lot) == reached(database, neighbour) == []


def test_who_shared_a_filter_stays_within_reach_when_the_tub_is_parted_from_it(
    api: Api, database: Database, neighbour: str, left_after: tuple[str, str]
) -> None:
    place, lot = left_after
    after = received_lot(api, hours=2, tub_id=place)["id"]
    assert reached(database, lot) == [neighbour]
    assert reached(database, neighbour) == [lot]
    assert reached(database, after) == []


def test_a_find_from_before_the_tubs_were_joined_leaves_the_others_alone(
    api: Api, neighbour: str, joined_after: tuple[str, str]
) -> None:
    place, lot = joined_after
    before = api.auditor.seen(f"/lots/{neighbour}")
    look(api, found(), hours=10, tub_id=place, method="strain")
    assert "inspection.found_live" in kinds(api, lot)
    assert api.auditor.seen(f"/lots/{neighbour}") == before


def test_a_find_from_before_the_tub_was_parted_reaches_all_of_the_filter(
    api: Api, neighbour: str, left_after: tuple[str, str]
) -> None:
    place, lot = left_after
    look(api, found(), hours=10, tub_id=place, method="strain")
    assert "inspection.found_live" in kinds(api, neighbour)
    assert "inspection.found_live" in kinds(api, lot)


def test_a_find_reaches_who_came_into_its_tub_since(
    api: Api, left_after: tuple[str, str], neighbour: str
) -> None:
    place, _ = left_after
    after = received_lot(api, hours=2, tub_id=place)["id"]
    look(api, found(), hours=10, tub_id=place, method="strain")
    assert "inspection.found_live" in kinds(api, after)


def test_a_net_of_before_brings_other_water_though_the_tubs_are_one_today(
    api: Api, neighbour: str, joined_after: tuple[str, str]
) -> None:
    place, _ = joined_after
    net = api.grower.made("/tools", {"code": "net-1", "kind": "net"})["id"]
    there = api.auditor.seen(f"/lots/{neighbour}")["tub_id"]
    first = {"tub_id": place, "at": hours_ago(10), "late_reason": LATE}
    assert api.grower.made(f"/tools/{net}/uses", first)["contact"] is False
    assert api.grower.made(f"/tools/{net}/uses", {"tub_id": there})["contact"] is True


def test_a_net_between_tubs_of_one_filter_brought_nothing_new_though_they_are_parted_today(
    api: Api, neighbour: str, left_after: tuple[str, str]
) -> None:
    place, _ = left_after
    net = api.grower.made("/tools", {"code": "net-1", "kind": "net"})["id"]
    there = api.auditor.seen(f"/lots/{neighbour}")["tub_id"]
    for tub_id, hours in ((place, 11), (there, 10)):
        body = {"tub_id": tub_id, "at": hours_ago(hours), "late_reason": LATE}
        assert api.grower.made(f"/tools/{net}/uses", body)["contact"] is False


def test_a_net_entered_late_reaches_who_was_there_then_and_nobody_who_came_after(
    api: Api, database: Database
) -> None:
    one, two = tub(database, "T1"), tub(database, "T2")
    received_lot(api, hours=20, tub_id=one)
    gone = received_lot(api, hours=20, tub_id=two)["id"]
    moved(api, gone, tub(database, "T3"), hours=5)
    came = received_lot(api, hours=2, tub_id=two)["id"]
    net = api.grower.made("/tools", {"code": "net-1", "kind": "net"})["id"]
    for tub_id, hours in ((one, 11), (two, 10)):
        body = {"tub_id": tub_id, "at": hours_ago(hours), "late_reason": LATE}
        api.grower.made(f"/tools/{net}/uses", body)
    assert "lot.water_shared" in kinds(api, gone)
    assert "lot.water_shared" not in kinds(api, came)


def test_a_move_entered_late_meets_who_shared_the_water_then(
    api: Api, database: Database, neighbour: str, left_after: tuple[str, str]
) -> None:
    place, _ = left_after
    lot = received_lot(api, hours=18)["id"]
    body = {"tub_id": place, "at": hours_ago(7), "late_reason": LATE}
    refused = api.grower.post(f"/lots/{lot}/moves", body)
    assert refused.status_code == 409
    assert refused.get_json()["reasons"][0]["code"] == "water-shared"
