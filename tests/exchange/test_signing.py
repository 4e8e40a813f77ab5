"""Signatures: the vectors of Standard Webhooks, and secrets that nobody keeps."""

import base64
from datetime import UTC, datetime

from service.exchange.signing import secret_of, signed
from tests.reference.outside import Kind, outside

SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
HOUSE = "a-secret-of-the-tests-0123456789-abcdefghij"
HOOK = "0195a1b2-0000-7000-8000-000000000009"


@outside(Kind.STANDARD, "Standard Webhooks, test vector of the reference libraries")
def test_the_published_vector() -> None:
    at = datetime.fromtimestamp(1614265330, UTC)
    found = signed([SECRET], "msg_p5jXN8AQM9LWM0D4loKWxJek", at, b'{"test": 2432232314}')
    assert found == {
        "webhook-id": "msg_p5jXN8AQM9LWM0D4loKWxJek",
        "webhook-timestamp": "1614265330",
        "webhook-signature": "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=",
    }


@outside(Kind.LIBRARY, "standardwebhooks 1.1 for Python, run once on this body")
def test_a_cloud_event() -> None:
    body = (
        b'{"specversion":"1.0","id":"0195a1b2-0000-7000-8000-000000000001","source":"/v1",'
        b'"type":"lot.released","time":"2026-03-02T09:00:00Z","subject":"lots/L26-014",'
        b'"datacontenttype":"application/json","data":{"lot":"L26-014"}}'
    )
    at = datetime(2026, 3, 2, 9, tzinfo=UTC)
    found = signed([SECRET], "0195a1b2-0000-7000-8000-000000000001", at, body)
    assert found["webhook-signature"] == "v1,azFtPiO1csx+nUDq40IkOOatH1chZE6fi1bUpjmpwB8="


def test_during_a_rotation_both_secrets_sign() -> None:
    at = datetime(2026, 3, 2, 9, tzinfo=UTC)
    new, old = secret_of(HOUSE, HOOK, 2), secret_of(HOUSE, HOOK, 1)
    both = signed([new, old], "a", at, b"{}")["webhook-signature"].split(" ")
    assert both == [signed([secret], "a", at, b"{}")["webhook-signature"] for secret in (new, old)]


def test_a_secret_is_derived_anew_and_differs_by_house_webhook_and_rotation() -> None:
    secret = secret_of(HOUSE, HOOK, 1)
    assert secret == secret_of(HOUSE, HOOK, 1)
    assert 24 <= len(base64.b64decode(secret.removeprefix("whsec_"), validate=True)) <= 64
    assert (
        len({secret, secret_of(HOUSE, HOOK, 2), secret_of(HOUSE, SECRET, 1), secret_of(SECRET, HOOK, 1)}) == 4
    )
