"""Tokens: shown once, kept as a hash, gone at once when revoked; and the house's settings."""

import pytest
from sqlalchemy import select, update

from service.accounts.models import Token
from service.core.clock import utc_now
from service.core.db import Database
from tests.api import Api
from tests.engines import new_engine

NEW = {"name": "counter tablet", "role": "grower"}


@pytest.mark.promise(r=22)
def test_a_token_is_shown_once_and_kept_as_a_hash(api: Api, database: Database) -> None:
    made = api.owner.made("/tokens", NEW)
    with database.reading() as session:
        kept = session.scalars(select(Token).where(Token.id == made["id"])).one()
    assert made["secret"] not in {kept.digest, kept.name}
    assert all("secret" not in item for item in api.owner.seen("/tokens")["items"])


@pytest.mark.promise(r=22)
def test_a_replayed_token_request_does_not_show_the_secret_again(api: Api) -> None:
    first = api.owner.post("/tokens", NEW, Idempotency_Key="k")
    again = api.owner.post("/tokens", NEW, Idempotency_Key="k")
    assert again.status_code == 201
    assert first.get_json()["secret"] not in again.get_data(as_text=True)


@pytest.mark.promise(r=22)
def test_a_revoked_token_opens_nothing_from_the_next_request_on(api: Api) -> None:
    made = api.owner.post("/tokens", NEW)
    secret, path = made.get_json()["secret"], f"/tokens/{made.get_json()['id']}"
    client = api.with_token(secret)
    assert client.get("/suppliers").status_code == 200
    assert api.owner.send("DELETE", path, headers={"If-Match": made.headers["ETag"]}).status_code == 204
    assert client.get("/suppliers").status_code == 401


@pytest.mark.promise(r=22)
def test_a_token_that_another_process_revoked_opens_nothing_either(api: Api, database: Database) -> None:
    made = api.owner.made("/tokens", NEW)
    client = api.with_token(made["secret"])
    assert [client.get("/tubs").status_code for _ in range(3)] == [200] * 3
    other = new_engine(database.engine.url.render_as_string(hide_password=False), 5.0)
    with other.begin() as connection:  # a pool of its own, as another process has it
        connection.execute(update(Token).where(Token.id == made["id"]).values(revoked_at=utc_now()))
    other.dispose()
    assert client.get("/tubs").status_code == 401


def test_an_expired_token_opens_nothing(api: Api, database: Database) -> None:
    secret = api.owner.made("/tokens", NEW)["secret"]
    with database.writing() as session:
        session.execute(update(Token).where(Token.name == NEW["name"]).values(expires_at=utc_now()))
    assert api.with_token(secret).get("/suppliers").status_code == 401


@pytest.mark.parametrize("body", [{**NEW, "role": "king"}, {**NEW, "days": 366}, {**NEW, "days": 0}])
def test_a_token_that_cannot_be_is_refused(api: Api, body: dict[str, object]) -> None:
    assert api.owner.post("/tokens", body).status_code == 422


def test_only_an_owner_makes_tokens(api: Api) -> None:
    assert api.manager.post("/tokens", NEW).status_code == 403


def test_the_owner_changes_the_house(api: Api) -> None:
    tag = api.owner.get("/settings").headers["ETag"]
    change = {"time_zone": "Europe/Lisbon", "issuer_name": "Brookside Aquatics"}
    changed = api.owner.send("PATCH", "/settings", change, headers={"If-Match": tag})
    assert changed.status_code == 200
    assert api.grower.seen("/settings")["time_zone"] == "Europe/Lisbon"


def test_a_time_zone_must_be_one(api: Api) -> None:
    tag = api.owner.get("/settings").headers["ETag"]
    answer = api.owner.send("PATCH", "/settings", {"time_zone": "Europe/Atlantis"}, headers={"If-Match": tag})
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["pointer"] == "#/time_zone"
