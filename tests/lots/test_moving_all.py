"""All in, all out: the lots of a tub go to another in one act, all of them or none (decision 20)."""

from typing import Any

import pytest

from service.core.db import Database
from service.lots.queries import contacts_of
from service.lots.rules import State
from tests.api import Api
from tests.make_lots import brought_to, hours_ago, line, received_lot, received_lots, tub
from tests.unchanged import unchanged


@pytest.fixture
def full(api: Api, database: Database) -> tuple[str, list[str]]:
    """A tub with two lots that came in one bag, so that no clock of theirs started anew."""
    place = tub(database, "T1")
    lots = received_lots(
        api, line(api, tub_id=place, bag="A"), line(api, tub_id=place, bag="A"), hours=60, share_water=True
    )
    return place, sorted(lot["id"] for lot in lots)


def contacts(database: Database, lots: list[str]) -> int:
    with database.reading() as session:
        return sum(len(found) for found in contacts_of(session, lots).values())


def test_all_lots_of_a_tub_go_to_another_and_stay_one_water(
    api: Api, database: Database, full: tuple[str, list[str]]
) -> None:
    (place, lots), to = full, tub(database, "T2")
    before = contacts(database, lots)
    shown = api.grower.post(f"/tubs/{place}/moves", {"to_tub_id": to})
    assert shown.status_code == 200
    assert shown.get_json() == {"from_tub_id": place, "to_tub_id": to, "lot_ids": lots}
    assert [api.grower.seen(f"/lots/{lot}")["tub_id"] for lot in lots] == [to, to]
    assert contacts(database, lots) == before
    trail = api.auditor.seen(f"/lots/{lots[0]}/history?limit=200")["items"]
    [moved] = [item for item in trail if item["kind"] == "lot.moved" and item["after"]["tub_id"] == to]
    assert {f"lot/{lot}" for lot in lots} <= {str(subject) for subject in moved["subjects"]}


def test_one_lot_that_may_not_go_keeps_all_of_them(
    api: Api, database: Database, full: tuple[str, list[str]]
) -> None:
    (place, lots), to = full, tub(database, "T2")
    brought_to(database, lots[1], State.IN_TREATMENT)
    with unchanged(database):
        refused = api.grower.post(f"/tubs/{place}/moves", {"to_tub_id": to})
    assert refused.status_code == 409
    [reason] = refused.get_json()["reasons"]
    assert reason["detail"].startswith(api.grower.seen(f"/lots/{lots[1]}")["code"])


def test_water_of_others_is_shared_only_when_said(
    api: Api, database: Database, full: tuple[str, list[str]]
) -> None:
    (place, _), to = full, tub(database, "T2")
    received_lot(api, hours=1, tub_id=to)
    refused = api.grower.post(f"/tubs/{place}/moves", {"to_tub_id": to})
    assert refused.get_json()["reasons"][0]["code"] == "water-shared"
    assert api.grower.post(f"/tubs/{place}/moves", {"to_tub_id": to, "share_water": True}).status_code == 200


def test_what_cannot_be_moved_is_refused_by_name(api: Api, database: Database) -> None:
    one, two = tub(database, "T1"), tub(database, "T2")
    nobody = "018f0000-0000-7000-8000-000000000000"

    def answered(place: str, **body: Any) -> tuple[int, Any]:
        shown = api.grower.post(f"/tubs/{place}/moves", body)
        return shown.status_code, shown.get_json()

    assert answered(nobody, to_tub_id=two)[0] == 404
    assert answered(one, to_tub_id=two)[1]["reasons"][0]["code"] == "tub-empty"
    for wrong in ({"to_tub_id": one}, {"to_tub_id": nobody}, {}):
        status, shown = answered(one, **wrong)
        assert (status, shown["errors"][0]["pointer"]) == (422, "#/to_tub_id")
    assert answered(one, to_tub_id=two, at=hours_ago(-2))[0] == 422
    assert api.seller.post(f"/tubs/{one}/moves", {"to_tub_id": two}).status_code == 403
    assert api.nobody.post(f"/tubs/{one}/moves", {"to_tub_id": two}).status_code == 401
