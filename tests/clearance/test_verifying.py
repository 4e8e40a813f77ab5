"""Checking offline: the good statement holds, every tampered one is found out, by us and by another library.

The other library is jwcrypto; what it does here is the offline verifier that a customer could write himself
from RFC 7515, 8037 and 9864. The vectors are those of RFC 8037, appendix A.
"""

import base64
import hashlib
import hmac
from collections.abc import Mapping
from datetime import timedelta
from typing import Any

import orjson
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from joserfc import jws
from joserfc.errors import SecurityWarning
from joserfc.jwk import OKPKey
from jwcrypto.common import JWException
from jwcrypto.jwk import JWKSet
from jwcrypto.jws import JWS

from service.clearance.pdf import statement_pdf
from service.clearance.signing import new_key, public_jwks, sign
from service.clearance.verifying import verify
from tests.clearance.test_page import SAID
from tests.clearance.test_signing import ISSUED, RFC_KEY

KEY = OKPKey.import_key(new_key())
OTHER = OKPKey.import_key(new_key())
TOKEN = sign(SAID, KEY)
PAGE = statement_pdf(SAID, TOKEN)
TODAY = ISSUED + timedelta(days=1)

# RFC 8037, appendix A.4 (signing) and A.5 (checking).
PAYLOAD = b"Example of Ed25519 signing"
VECTOR = (
    "eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc."
    "hgyY0il_MGCjP0JzlnLWG1PPOt7-09PGcvMg3AIbQR6dWbhijcNR4ki4iylGjg5BhVsPt9g7sVvpAr_MuM0KAg"
)


def encoded(value: Any) -> str:
    raw = value if isinstance(value, bytes) else orjson.dumps(value)
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode()


def raw(key: OKPKey, message: bytes) -> bytes:
    """The bare Ed25519 signature (RFC 8032) that a JWS holds."""
    private = key.raw_value
    assert isinstance(private, Ed25519PrivateKey)
    return private.sign(message)


def accepted(token: str, *keys: OKPKey) -> Mapping[str, Any] | None:
    """What another library says of a token, by the public halves of these keys."""
    return accepted_by(token, orjson.dumps(public_jwks(keys)))


def accepted_by(token: str, jwks: bytes) -> Mapping[str, Any] | None:
    """What another library says by a published key set: the claims, or None when it refuses."""
    published = JWKSet.from_json(jwks.decode())
    found = JWS()
    found.allowed_algs = ["Ed25519"]
    try:
        found.deserialize(token)
        header = found.jose_header
        key = published.get_key(header.get("kid"))
        if key is None or header.get("typ") != "snail-clearance+jwt":
            return None
        found.verify(key, alg="Ed25519")
    except (JWException, ValueError, KeyError):
        return None
    said: Mapping[str, Any] = orjson.loads(found.payload)
    return said


def codes(content: bytes | str, *keys: OKPKey) -> list[str]:
    raw = content.encode() if isinstance(content, str) else content
    return [reason.code for reason in verify(raw, keys or [KEY], TODAY).reasons]


def reheaded(**changes: Any) -> str:
    """The token with another header over the same payload and signature."""
    _, payload, signature = TOKEN.split(".")
    return f"{encoded(header(**changes))}.{payload}.{signature}"


def header(**changes: Any) -> dict[str, Any]:
    return {"alg": "Ed25519", "kid": KEY.thumbprint(), "typ": "snail-clearance+jwt", **changes}


def signed_as(**changes: Any) -> str:
    """A token truly signed with our key, with a header of an attacker's choice."""
    start = f"{encoded(header(**changes))}.{encoded(SAID)}"
    return f"{start}.{encoded(raw(KEY, start.encode()))}"


def test_the_published_example_is_signed_and_checked_as_published() -> None:
    key = OKPKey.import_key(RFC_KEY)
    with pytest.warns(SecurityWarning):  # RFC 9864 deprecates the name EdDSA, which the example still has
        made = jws.serialize_compact({"alg": "EdDSA"}, PAYLOAD, key, algorithms=["EdDSA"])
    assert made == VECTOR
    signed = VECTOR.rsplit(".", 1)
    assert encoded(raw(key, signed[0].encode())) == signed[1]
    assert codes(VECTOR, key) == ["algorithm"]


def test_both_libraries_accept_the_good_statement() -> None:
    assert accepted(TOKEN, KEY) == SAID
    assert codes(TOKEN) == []
    assert codes(PAGE) == []
    assert verify(PAGE, [OTHER, KEY], TODAY).claims == SAID


@pytest.mark.promise(r=29)
@pytest.mark.parametrize("claim", sorted(SAID))
def test_a_changed_claim_is_found_out(claim: str) -> None:
    value = SAID[claim]
    forged = {**SAID, claim: value + 1 if isinstance(value, int) else [value, "more"]}
    start, _, signature = TOKEN.split(".")
    token = f"{start}.{encoded(forged)}.{signature}"
    assert accepted(token, KEY) is None
    assert codes(token) == ["signature"]


@pytest.mark.parametrize("claim", sorted(SAID))
def test_a_claim_taken_away_is_found_out(claim: str) -> None:
    start, _, signature = TOKEN.split(".")
    less = {name: value for name, value in SAID.items() if name != claim}
    token = f"{start}.{encoded(less)}.{signature}"
    assert accepted(token, KEY) is None
    assert codes(token) == ["signature"]


@pytest.mark.parametrize("algorithm", ["none", "HS256", "EdDSA", "ES256", "ed25519", None, 5])
def test_another_algorithm_in_the_header_is_refused(algorithm: Any) -> None:
    for token in (
        reheaded(alg=algorithm),
        signed_as(alg=algorithm),
        reheaded(alg=algorithm).rsplit(".", 1)[0] + ".",
    ):
        assert accepted(token, KEY) is None
        assert codes(token) == ["algorithm"]


def test_the_public_key_does_not_serve_as_a_shared_secret() -> None:
    # The mix-up of RFC 8725, 2.1: a MAC made with what everybody has.
    start = f"{encoded(header(alg='HS256'))}.{encoded(SAID)}"
    secret = base64.urlsafe_b64decode(str(KEY.as_dict(private=False)["x"]) + "=")
    token = f"{start}.{encoded(hmac.new(secret, start.encode(), hashlib.sha256).digest())}"
    assert accepted(token, KEY) is None
    assert codes(token) == ["algorithm"]


@pytest.mark.promise(r=29)
@pytest.mark.parametrize("place", [0, 1, 17, 42, 84, 85])
def test_a_changed_signature_is_found_out(place: int) -> None:
    start, signature = TOKEN.rsplit(".", 1)
    for letter in {"A", "B", "_"} - {signature[place]}:
        token = f"{start}.{signature[:place]}{letter}{signature[place + 1 :]}"
        assert codes(token) in (["signature"], ["no-statement"])
        # Spare bits of the last letter: the other library reads the same signature, we take one form only.
        assert accepted(token, KEY) is None or place == 85


@pytest.mark.promise(r=29)
def test_another_key_is_refused_even_under_the_name_of_ours() -> None:
    assert accepted(sign(SAID, OTHER), KEY) is None
    assert codes(sign(SAID, OTHER)) == ["unknown-key"]
    start = f"{encoded(header())}.{encoded(SAID)}"
    token = f"{start}.{encoded(raw(OTHER, start.encode()))}"
    assert accepted(token, KEY) is None
    assert codes(token) == ["signature"]


def test_a_key_that_travels_in_the_header_is_not_looked_at() -> None:
    start = f"{encoded(header(kid=OTHER.thumbprint(), jwk=OTHER.as_dict(private=False)))}.{encoded(SAID)}"
    token = f"{start}.{encoded(raw(OTHER, start.encode()))}"
    assert accepted(token, KEY) is None
    assert codes(token) == ["unknown-key"]


@pytest.mark.promise(r=29)
def test_after_its_key_was_withdrawn_a_statement_holds_no_more() -> None:
    assert accepted(TOKEN, OTHER) is None
    assert codes(TOKEN, OTHER) == ["unknown-key"]
    assert codes(PAGE, OTHER) == ["unknown-key"]


@pytest.mark.parametrize(
    ("change", "code"), [({"typ": "JWT"}, "type"), ({"crit": ["exp"], "exp": 1}, "signature")]
)
def test_a_header_that_means_something_else_is_refused(change: dict[str, Any], code: str) -> None:
    assert codes(signed_as(**change)) == [code]


@pytest.mark.parametrize("content", ["", "a.b", "a.b.c", "..", "nonsense", "é.é.é", f"{TOKEN}.", f"{TOKEN}="])
def test_what_is_no_statement_is_said_to_be_none(content: str) -> None:
    assert codes(content) == ["no-statement"]


def test_a_signed_text_that_is_no_object_is_no_statement() -> None:
    start = f"{encoded(header())}.{encoded(b'[]')}"
    assert codes(f"{start}.{encoded(raw(KEY, start.encode()))}") == ["type"]


def test_it_stands_from_its_first_second_to_before_its_last() -> None:
    def at(moment: float) -> list[str]:
        when = ISSUED + timedelta(seconds=moment - SAID["nbf"])
        return [reason.code for reason in verify(TOKEN.encode(), [KEY], when).reasons]

    assert at(SAID["nbf"] - 1) == ["not-yet"]
    assert at(SAID["nbf"]) == at(SAID["exp"] - 1) == []
    assert at(SAID["exp"]) == ["expired"]


def test_a_statement_without_days_does_not_hold() -> None:
    endless = {name: value for name, value in SAID.items() if name != "exp"}
    assert codes(sign(endless, KEY)) == ["type"]
