"""Voiding looks; the lock of a regulated pest."""

from typing import Any

from service.core.db import Database
from tests.api import Api
from tests.inspections.test_looks import kinds, pair_in_one_water
from tests.make_inspections import found, look
from tests.make_lots import hours_ago, received_lot
from tests.unchanged import unchanged

WHY = {"reason": "a ramshorn after all"}


def move_status(api: Api, lot: Any) -> int:
    split = {"quantity": 1, "at": hours_ago(0), "reason": "for the shop"}
    return api.grower.post(f"/lots/{lot['id']}/splits", split).status_code


def test_a_notifiable_pest_locks_every_lot_of_the_water(api: Api, database: Database) -> None:
    first, second, _, _ = pair_in_one_water(api, database)
    look(api, found("apple_snail"), lot_id=first["id"], sample_size=40)
    assert move_status(api, first) == move_status(api, second) == 409


def test_a_dead_one_locks_nothing(api: Api) -> None:
    lot = received_lot(api, hours=2)
    look(api, found("apple_snail", live=0, dead=1), lot_id=lot["id"], sample_size=40)
    assert move_status(api, lot) == 201


def test_a_second_person_lifts_the_lock(api: Api, database: Database) -> None:
    first, second, _, _ = pair_in_one_water(api, database)
    made = look(api, found("apple_snail"), lot_id=first["id"], sample_size=40)
    with unchanged(database):
        refused = api.grower.post(f"/inspections/{made['id']}/void", WHY)
    assert refused.status_code == 409
    assert refused.get_json()["reasons"][0]["code"] == "second-person-needed"
    api.manager.made(f"/inspections/{made['id']}/void", WHY)
    assert move_status(api, first) == move_status(api, second) == 201
    assert "inspection.voided" in kinds(api, first)
    assert "inspection.voided" in kinds(api, second)


def test_the_lock_stays_while_another_such_find_stands(api: Api) -> None:
    lot = received_lot(api, hours=6)
    made = look(api, found("apple_snail"), lot_id=lot["id"], sample_size=40, hours=2)
    look(api, found("apple_snail", stage="egg"), lot_id=lot["id"], sample_size=40, hours=1)
    api.manager.made(f"/inspections/{made['id']}/void", WHY)
    assert move_status(api, lot) == 409


def test_a_look_is_voided_once_by_whoever_made_it(api: Api) -> None:
    lot = received_lot(api, hours=6)
    made = look(api, found(), lot_id=lot["id"], sample_size=40)
    api.grower.made(f"/inspections/{made['id']}/void", WHY)
    again = api.grower.post(f"/inspections/{made['id']}/void", WHY)
    assert again.get_json()["reasons"][0]["code"] == "already-voided"


def test_a_look_at_a_tub_is_voided_too_and_an_unknown_one_is_not_found(api: Api, database: Database) -> None:
    _, second, tub_id, _ = pair_in_one_water(api, database)
    made = look(api, found(), tub_id=tub_id, method="strain")
    api.grower.made(f"/inspections/{made['id']}/void", WHY)
    assert kinds(api, second)[-1] == "inspection.voided"
    nowhere = "00000000-0000-7000-8000-000000000000"
    assert api.grower.post(f"/inspections/{nowhere}/void", WHY).status_code == 404
