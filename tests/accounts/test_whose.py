"""Whose a token is: where two people are asked for, one person with two tokens is one."""

from typing import Any

import pytest
from flask import Flask

from service.accounts.people import change_person
from service.accounts.people_queries import person_for_change
from service.accounts.queries import same_person
from service.accounts.rules import Role
from service.core.clock import utc_now
from service.core.db import Database
from service.core.http import Caller
from service.core.inside import ask
from service.journal.acts import Act
from tests.api import Api, Client
from tests.journeys.bench import Bench
from tests.make_clearance import ready
from tests.make_inspections import found, look_body
from tests.make_lots import received_lot
from tests.make_people import a_person
from tests.unchanged import unchanged

WHY = {"reason": "a ramshorn after all"}


def token(api: Api, *, by: Client | None = None, role: str = "manager", **more: Any) -> tuple[str, Client]:
    """The id of a new token and a client with it."""
    made = (by or api.owner).made("/tokens", {"name": "a tablet", "role": role, **more})
    return made["id"], api.with_token(made["secret"])


@pytest.fixture
def ines(database: Database) -> str:
    return str(a_person(database, "Ines", Role.MANAGER).id)


def apple_snail(api: Api, by: Client) -> str:
    """The address of a look in which somebody found a notifiable pest."""
    lot = received_lot(api, hours=2)["id"]
    made = by.made("/inspections", look_body(found("apple_snail"), lot_id=lot, sample_size=40))
    return f"/inspections/{made['id']}/void"


def test_two_tokens_of_one_person_are_one_person(api: Api, database: Database, ines: str) -> None:
    (_, first), (_, second) = (token(api, person_id=ines) for _ in range(2))
    path = apple_snail(api, first)
    with unchanged(database):
        refused = second.post(path, WHY)
    assert refused.status_code == 409
    [reason] = refused.get_json()["reasons"]
    assert reason["code"] == "second-person-needed"
    assert "person_id" in reason["detail"]
    api.manager.made(path, WHY)


def test_a_token_and_the_same_person_at_the_console_are_one_person(
    api: Api, database: Database, served: tuple[Flask, Any], ines: str
) -> None:
    rui = str(a_person(database, "Rui", Role.MANAGER).id)
    path = apple_snail(api, token(api, person_id=ines)[1])
    with served[0].app_context():
        assert ask(Caller(ines, "Ines", "manager"), "POST", path, WHY).status == 409
        assert ask(Caller(rui, "Rui", "manager"), "POST", path, WHY).status == 200


def test_who_makes_himself_a_second_token_stays_one_person(api: Api) -> None:
    made, client = token(api, role="owner")
    _, of_this = token(api, by=client)
    path = apple_snail(api, api.owner)
    assert client.post(path, WHY).status_code == of_this.post(path, WHY).status_code == 409
    assert made is not None


def test_tokens_of_two_people_are_two_though_one_made_both(api: Api, database: Database, ines: str) -> None:
    rui = str(a_person(database, "Rui", Role.GROWER).id)
    first, second = token(api, person_id=ines)[0], token(api, person_id=rui, role="grower")[0]
    with database.reading() as session:
        assert not same_person(session, first, second)
        assert same_person(session, first, ines)
        assert same_person(session, "command line", "command line")


def test_a_token_goes_with_its_person(api: Api, database: Database, ines: str) -> None:
    _, client = token(api, person_id=ines)
    assert client.get("/suppliers").status_code == 200
    with database.writing() as session:
        now = utc_now()
        change_person(session, Act("tests", now, now), person_for_change(session, ines), {"active": False})
    assert client.get("/suppliers").status_code == 401
    refused = api.owner.post("/tokens", {"name": "one more", "role": "grower", "person_id": ines})
    assert refused.status_code == 422
    assert refused.get_json()["errors"][0]["pointer"] == "#/person_id"
    assert refused.get_json()["errors"][0]["detail"] == "There is nobody with this id who may come in."


def test_two_tokens_of_one_person_do_not_clear_a_lot_under_four_eyes(
    api: Api, database: Database, ines: str
) -> None:
    bench, strict = Bench(api), {"policy": "strict"}
    tub = bench.tub("Q1")
    bench.logger(tub, 0, bench.age, 24)
    lot = ready(bench, tub)
    (_, first), (_, second) = (token(api, person_id=ines) for _ in range(2))

    def decided(client: Client) -> Any:
        tag = client.get(f"/lots/{lot}").headers["ETag"]
        return client.post(f"/lots/{lot}/clearance", strict, If_Match=tag)

    assert decided(first).status_code == 202
    with unchanged(database):
        refused = decided(second)
    assert refused.status_code == 409
    assert [reason["code"] for reason in refused.get_json()["reasons"]] == ["second-person-needed"]
    rui = str(a_person(database, "Rui", Role.MANAGER).id)
    assert decided(token(api, person_id=rui)[1]).status_code == 201
