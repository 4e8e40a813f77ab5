"""Webhooks over HTTP: added, rotated, removed, and what is never shown or kept of them."""

import base64
import hashlib
import hmac
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import text

from service.core.db import Database
from tests.api import Api
from tests.exchange.cloud_events import faults
from tests.exchange.conftest import Post
from tests.exchange.endpoints import Received
from tests.make_lots import received_lot

SHOP = {"name": "shop", "url": "https://shop.example/in?key=s3cret", "types": ["lot.cleared"]}


def fits(received: Received, secret: str) -> list[bool]:
    """Which of the signatures a secret made, reckoned anew from the specification."""
    headers = {name.lower(): value for name, value in received.headers.items()}
    content = f"{headers['webhook-id']}.{headers['webhook-timestamp']}.".encode() + received.body
    key = base64.b64decode(secret.removeprefix("whsec_"))
    wanted = "v1," + base64.b64encode(hmac.new(key, content, hashlib.sha256).digest()).decode()
    return [signature == wanted for signature in headers["webhook-signature"].split(" ")]


def everything_kept(database: Database) -> str:
    """The text of every row of every table."""
    with database.reading() as session:
        kind = "sqlite_master" if database.engine.dialect.name == "sqlite" else "pg_tables"
        column = "name" if kind == "sqlite_master" else "tablename"
        where = "type = 'table'" if kind == "sqlite_master" else "schemaname = 'public'"
        names = session.scalars(text(f"SELECT {column} FROM {kind} WHERE {where}")).all()  # noqa: S608  # fixed words
        rows = [session.execute(text(f'SELECT * FROM "{name}"')).all() for name in names]  # noqa: S608
        return str(
            [bytes(v) if isinstance(v, memoryview) else v for table in rows for row in table for v in row]
        )


def test_an_event_is_sent_signed_to_the_address_that_was_named(post: Post) -> None:
    made = post.webhook("lot.received")
    lot = received_lot(post.api)["id"]
    assert post.round() == 1
    [received] = post.shop.received
    assert received.path == "/in"
    assert received.headers["Content-Type"] == "application/cloudevents+json"
    assert faults(received.event) == []
    assert received.event == post.api.owner.seen("/events?type=lot.received")["items"][0]
    assert received.event["data"]["lot_id"] == lot
    assert received.headers["webhook-id"] == received.event["id"]
    assert abs(int(received.headers["webhook-timestamp"]) - post.now().timestamp()) < 60
    assert fits(received, made["secret"]) == [True]
    [delivery] = post.deliveries(made)
    assert (delivery["state"], delivery["attempts"], delivery["last_status"]) == ("delivered", 1, 204)
    assert post.round() == 0


def test_the_secret_is_shown_once_and_kept_nowhere(post: Post) -> None:
    key = {"Idempotency_Key": "add-1"}
    body = {"name": "shop", "url": f"http://127.0.0.1:{post.shop.port}/", "types": []}
    made = post.api.owner.made("/webhooks", body, **key)
    again = post.api.owner.post("/webhooks", body, **key)
    assert again.headers["Idempotency-Replayed"] == "true"
    assert {**again.get_json(), "secret": made["secret"]} == made
    assert "secret" not in again.get_json()
    assert "secret" not in post.api.owner.seen(f"/webhooks/{made['id']}")
    rotated = post.api.owner.made(f"/webhooks/{made['id']}/rotation", {}, Idempotency_Key="rotate-1")
    kept = everything_kept(post.database)
    for secret in (made["secret"], rotated["secret"]):
        assert secret.startswith("whsec_")
        assert secret not in kept
        assert secret.removeprefix("whsec_") not in kept


def test_what_may_be_secret_in_an_address_is_not_in_the_journal(api: Api) -> None:
    made = api.owner.made("/webhooks", SHOP)
    assert made["url"] == SHOP["url"]
    [entry] = api.owner.seen(f"/audit?subject=webhook/{made['id']}")["items"]
    assert entry["after"] == {"name": "shop", "origin": "https://shop.example", "types": ["lot.cleared"]}


def test_during_the_overlap_both_secrets_sign_and_then_the_new_one_alone(post: Post) -> None:
    made = post.webhook("lot.received")
    rotated = post.api.owner.made(f"/webhooks/{made['id']}/rotation", {"overlap_hours": 2})
    assert rotated["former_until"] is not None
    received_lot(post.api)
    post.round()
    received_lot(post.api)
    post.round(timedelta(hours=3))
    during, after = post.shop.received
    assert fits(during, rotated["secret"]) == [True, False]
    assert fits(during, made["secret"]) == [False, True]
    assert fits(after, rotated["secret"]) == [True]
    assert fits(after, made["secret"]) == [False]


def test_a_leaked_secret_can_be_replaced_at_once(post: Post) -> None:
    made = post.webhook("lot.received")
    rotated = post.api.owner.made(f"/webhooks/{made['id']}/rotation", {"overlap_hours": 0})
    received_lot(post.api)
    post.round()
    assert fits(post.shop.received[0], rotated["secret"]) == [True]


def test_only_what_happens_from_now_on_and_of_the_types_asked_for_is_sent(post: Post) -> None:
    received_lot(post.api)
    post.webhook("lot.held")
    post.webhook(path="/all", name="all")
    lot = received_lot(post.api)["id"]
    post.api.grower.made(f"/lots/{lot}/holds", {"cause": "look", "reason": "to be looked at"})
    post.round()
    sent = [(received.path, received.event["type"]) for received in post.shop.received]
    assert sorted(found for found in sent if found[0] == "/in") == [("/in", "lot.held")]
    assert sorted(found[1] for found in sent if found[0] == "/all") == [
        "inventory.changed",
        "lot.held",
        "lot.received",
    ]


def test_to_a_removed_webhook_nothing_more_is_sent(post: Post) -> None:
    made = post.webhook("lot.received")
    post.fallback = (500, {}, b"")
    received_lot(post.api)
    post.round()
    path = f"/webhooks/{made['id']}"
    assert post.api.owner.send("DELETE", path).status_code == 428
    tag = post.api.owner.get(path).headers["ETag"]
    assert post.api.owner.send("DELETE", path, headers={"If-Match": tag}).status_code == 204
    received_lot(post.api)
    assert post.round(timedelta(hours=1)) == 0
    shown = post.api.owner.seen(path)
    assert (shown["end_reason"], shown["waiting"], shown["parked"]) == ("removed", 0, 1)
    [delivery] = post.deliveries(made)
    assert post.api.owner.post(f"/deliveries/{delivery['id']}/redelivery").status_code == 409
    assert post.api.owner.post(f"{path}/rotation").status_code == 409


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"url": "https://10.0.0.1/"}, "#/url"),
        ({"url": "https://[::ffff:169.254.169.254]/"}, "#/url"),
        ({"url": "ftp://shop.example/"}, "#/url"),
        ({"url": "https://nursery.example/api/v1/lots"}, "#/url"),
        (
            {"url": "https://shop.example:22/"},
            None,
        ),  # a name may be a shop of one's own: judged when it resolves
        ({"types": ["lot.eaten"]}, "#/types/0"),
        ({"name": ""}, "#/name"),
    ],
)
def test_what_cannot_be_a_webhook_is_refused_by_its_place(
    api: Api, changes: Any, pointer: str | None
) -> None:
    answer = api.owner.post("/webhooks", {**SHOP, **changes})
    if pointer is None:
        assert answer.status_code == 201
        return
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["pointer"] == pointer
    assert api.owner.seen("/webhooks")["items"] == []


def test_only_the_owner_decides_where_events_go(api: Api) -> None:
    made = api.owner.made("/webhooks", SHOP)
    for role in ("manager", "grower", "seller", "shop", "auditor"):
        client = getattr(api, role)
        assert client.post("/webhooks", SHOP).status_code == 403
        assert client.post(f"/webhooks/{made['id']}/rotation").status_code == 403
        looks = client.get(f"/webhooks/{made['id']}").status_code
        assert looks == (200 if role in {"manager", "auditor"} else 403)
    assert api.owner.get("/webhooks/00000000-0000-7000-8000-000000000000").status_code == 404
    assert api.owner.post("/deliveries/00000000-0000-7000-8000-000000000000/redelivery").status_code == 404
