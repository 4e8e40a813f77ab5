"""R3: one key sent by many at once has one effect and one answer."""

from functools import partial

import pytest
from flask import Flask

from service.core import idempotency
from service.core.settings import Settings
from tests.api import Api, Client, Contract
from tests.promises.naive import at_once, naive_house
from tests.soak import figure

KEYS, AT_ONCE = figure(gate=6, full=200), 8


def added(client: Client, n: int) -> tuple[int, bytes]:
    """Add a supplier under the key of this number, asked again while the first is still at it."""
    for _ in range(20):
        answer = client.post("/suppliers", {"name": f"S{n}", "country": "NL"}, Idempotency_Key=f"key-{n}")
        if answer.status_code not in {409, 503}:
            break
    return answer.status_code, answer.get_data()


def suppliers(api: Api) -> list[str]:
    return sorted(found["name"] for found in api.grower.seen("/suppliers?limit=200")["items"])


@pytest.mark.promise(r=3)
@pytest.mark.soak
def test_one_key_sent_by_many_at_once_has_one_effect_and_one_answer(api: Api) -> None:
    for n in range(KEYS):
        [(status, _)] = set(at_once([partial(added, api.grower, n)] * AT_ONCE))
        assert status == 201
        other = api.grower.post("/suppliers", {"name": "other", "country": "NL"}, Idempotency_Key=f"key-{n}")
        assert other.status_code == 422
    assert suppliers(api) == sorted(f"S{n}" for n in range(KEYS))


@pytest.mark.promise(r=3)
def test_looking_before_adding_is_not_enough(
    api: Api, served: tuple[Flask, Contract], settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(idempotency, "_alone", lambda *_: True)
    with naive_house(served[0], settings):
        given = {got for n in range(KEYS) for got in at_once([partial(added, api.grower, n)] * AT_ONCE)}
    assert len(given) > KEYS


@pytest.mark.promise(r=3)
@pytest.mark.promise(r=22)
def test_a_kept_answer_is_not_shown_to_a_revoked_token(api: Api) -> None:
    made = api.owner.post("/tokens", {"name": "the scale", "role": "grower"})
    token, client = made.get_json(), api.with_token(made.get_json()["secret"])
    assert added(client, 1)[0] == 201
    revoked = api.owner.send("DELETE", f"/tokens/{token['id']}", headers={"If-Match": made.headers["ETag"]})
    assert revoked.status_code == 204
    assert added(client, 1)[0] == 401
