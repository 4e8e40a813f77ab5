"""Moving lots, and the water they come to share."""

from typing import Any

import pytest

from service.core.db import Database
from service.lots.models import Lot
from service.lots.queries import contacts_of, stays_of, water_group
from service.lots.rules import State
from service.tubs.models import Tub
from tests.api import Api
from tests.make_lots import (
    brought_to,
    cleared,
    hours_ago,
    line,
    received_lot,
    received_lots,
    tub,
    water_system,
)

NOBODY = "018f0000-0000-7000-8000-000000000000"


def move(api: Api, lot: Any, tub_id: str | None = None, **body: Any) -> Any:
    return api.grower.post(f"/lots/{lot['id']}/moves", {"tub_id": tub_id, **body})


def problem(answer: Any) -> str:
    assert answer.status_code in {409, 422}, answer.get_json()
    return str(answer.get_json()["type"].rsplit("/", 1)[1])


def contacts(database: Database, lot: Any) -> int:
    with database.reading() as session:
        return len(contacts_of(session, [lot["id"]])[lot["id"]])


def filling(database: Database, tub_id: str) -> bool:
    with database.reading() as session:
        return session.get_one(Tub, tub_id).filling_since is not None


def test_a_lot_moves_from_tub_to_tub_and_its_stays_are_kept(api: Api, database: Database) -> None:
    one, two = tub(database, "T1"), tub(database, "T2")
    lot = received_lot(api, hours=5)
    assert move(api, lot, one, to="received", at=hours_ago(4)).get_json()["tub_id"] == one
    assert move(api, lot, two, at=hours_ago(2)).get_json()["tub_id"] == two
    with database.reading() as session:
        first, second = stays_of(session, [lot["id"]])[lot["id"]]
        assert (first.tub_id, second.tub_id) == (one, two)
        assert first.left_at == second.entered_at
        assert second.left_at is None
    assert not filling(database, one)
    assert filling(database, two)
    assert contacts(database, lot) == 0


def test_a_move_to_where_it_is_changes_nothing(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    lot = received_lot(api, tub_id=place)
    assert move(api, lot, place).get_json()["version"] == lot["version"]


def test_the_move_is_in_the_history_of_the_lot(api: Api, database: Database) -> None:
    lot = received_lot(api, tub_id=tub(database, "T1"))
    two = tub(database, "T2")
    move(api, lot, two)
    last = api.auditor.seen(f"/lots/{lot['id']}/history")["items"][-1]
    assert (last["kind"], last["after"]["tub_id"]) == ("lot.moved", two)


def test_water_that_holds_other_lots_is_shared_only_when_said(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    inside, lot = received_lot(api, tub_id=place), received_lot(api)
    refused = move(api, lot, place)
    assert problem(refused) == "water-shared"
    assert inside["code"] in refused.get_json()["reasons"][0]["have"]
    assert api.grower.seen(f"/lots/{lot['id']}") == lot
    assert move(api, lot, place, share_water=True).status_code == 200
    assert contacts(database, inside) == contacts(database, lot) == 1
    for one in (inside, lot):
        kinds = [item["kind"] for item in api.auditor.seen(f"/lots/{one['id']}/history")["items"]]
        assert kinds[-1] == "lot.water_shared"


def test_tubs_on_one_filter_are_one_water(api: Api, database: Database) -> None:
    system = water_system(database)
    one, two = (tub(database, code, system=system) for code in ("T1", "T2"))
    inside, lot = received_lot(api, tub_id=one), received_lot(api)
    assert problem(move(api, lot, two)) == "water-shared"
    assert move(api, inside, two).status_code == 200
    assert contacts(database, inside) == 0
    with database.reading() as session:
        assert [found.id for found in water_group(session, [one])] == [inside["id"]]


def test_lots_of_one_bag_share_water_unasked(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    first, second = received_lots(api, line(api, bag="A"), line(api, bag="A"))
    assert move(api, first, place).status_code == 200
    assert move(api, second, place).status_code == 200
    assert contacts(database, first) == 1  # one has been in a tub's water meanwhile


def test_after_48_hours_a_tub_is_closed_until_it_is_empty(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    old, lot = received_lot(api, hours=49, tub_id=place), received_lot(api)
    assert problem(move(api, lot, place, share_water=True)) == "tub-closed"
    assert move(api, old, tub(database, "T2")).status_code == 200
    assert move(api, lot, place).status_code == 200


def test_within_48_hours_a_tub_is_filled(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    received_lot(api, hours=47, tub_id=place)
    assert move(api, received_lot(api), place, share_water=True).status_code == 200


def test_a_late_entry_shares_water_with_whoever_was_there_then(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    then, lot = received_lot(api, hours=10, tub_id=place), received_lot(api, hours=10)
    move(api, then, tub(database, "T2"), at=hours_ago(4))
    assert problem(move(api, lot, place, at=hours_ago(6))) == "water-shared"
    assert move(api, lot, place, at=hours_ago(6), share_water=True).status_code == 200
    assert contacts(database, then) == 1
    assert move(api, received_lot(api, hours=3), tub(database, "T3")).status_code == 200


def test_the_contact_of_a_late_entry_is_dated_when_both_were_in(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    received_lot(api, hours=4, tub_id=place)
    early = received_lot(api, hours=10)
    assert move(api, early, place, at=hours_ago(8), share_water=True).status_code == 200
    with database.reading() as session:
        [contact] = contacts_of(session, [early["id"]])[early["id"]]
        [stay] = stays_of(session, [early["id"]])[early["id"]]
        assert contact.at > stay.entered_at


def test_a_move_is_not_dated_before_what_it_depends_on(api: Api, database: Database) -> None:
    lot = received_lot(api, hours=5)
    place = tub(database, "T1")
    assert problem(move(api, lot, place, at=hours_ago(6))) == "before-its-cause"
    move(api, lot, place, at=hours_ago(3))
    assert problem(move(api, lot, tub(database, "T2"), at=hours_ago(4))) == "before-its-cause"


@pytest.mark.parametrize(
    ("to", "address"),
    [
        ("in_treatment", "POST /treatments"),
        ("cleared", "POST /lots/{id}/clearance"),
        ("rejected", "POST /lots/{id}/rejection"),
        ("held", "POST /lots/{id}/holds"),
    ],
)
def test_what_is_no_move_names_its_address(api: Api, to: str, address: str) -> None:
    lot = received_lot(api)
    body = move(api, lot, to=to).get_json()
    assert body["status"] == 409
    assert body["reasons"][0]["needed"] == address
    assert body["current_state"] == "received"
    assert "in_treatment" in body["allowed"]


def test_a_cleared_lot_goes_back_to_quarantine_with_a_reason(api: Api, database: Database) -> None:
    lot = received_lot(api)
    cleared(database, lot["id"])
    assert problem(move(api, lot, to="in_quarantine")) == "reason-missing"
    back = move(api, lot, to="in_quarantine", reason="a customer's photo").get_json()
    assert back["state"] == "in_quarantine"
    assert back["certificate_serial"] is back["cleared_at"] is None


def test_a_cleared_lot_may_change_its_tub(api: Api, database: Database) -> None:
    lot = received_lot(api)
    cleared(database, lot["id"])
    moved = move(api, lot, tub(database, "T1"), to="cleared").get_json()
    assert moved["state"] == "cleared"
    assert moved["tub_id"] is not None


def test_a_move_names_a_tub_that_is_there_and_in_use(api: Api, database: Database) -> None:
    lot = received_lot(api)
    assert problem(move(api, lot)) == "tub-missing"
    assert problem(move(api, lot, NOBODY)) == "unknown-tub"
    assert problem(move(api, lot, tub(database, "T1", active=False))) == "tub-inactive"


def test_a_held_lot_may_only_be_isolated(api: Api, database: Database) -> None:
    one, two = tub(database, "T1"), tub(database, "T2")
    lot = received_lot(api)
    received_lot(api, tub_id=one)
    api.grower.made(f"/lots/{lot['id']}/holds", {"cause": "doubt", "reason": "odd eggs"})
    assert problem(move(api, lot, one, share_water=True)) == "held"
    assert move(api, lot, two).status_code == 200


def test_a_lot_in_treatment_stays_and_takes_nobody_in(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    treated, lot = received_lot(api, tub_id=place), received_lot(api)
    brought_to(database, treated["id"], State.IN_TREATMENT)
    assert problem(move(api, treated, tub(database, "T2"))) == "lot-in-treatment"
    assert problem(move(api, lot, place, share_water=True)) == "tub-in-treatment"


def test_a_regulated_pest_locks_the_lot_and_its_water(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    locked, lot = received_lot(api, tub_id=place), received_lot(api)
    with database.writing() as session:
        session.get_one(Lot, locked["id"]).regulated_lock = True
    path = f"/lots/{locked['id']}"
    empty = tub(database, "T2")
    for act, body in (
        ("moves", {"tub_id": empty}),
        ("splits", {"quantity": 1}),
        ("repack", {"kind": "trim", "from_quantity": 1, "to_quantity": 1}),
    ):
        assert problem(api.manager.post(f"{path}/{act}", body)) == "regulated-lock"
    assert problem(move(api, lot, place, share_water=True)) == "regulated-lock"
    assert api.grower.made(f"{path}/losses", {"quantity": 1, "cause": "melt"})
    api.grower.made(f"{path}/holds", {"cause": "regulated pest", "reason": "tell the authority"})
    rejection = {"quantity": 39, "way": "destroyed", "reason": "regulated pest"}
    assert api.grower.made(f"{path}/rejection", rejection)["state"] == "rejected"
