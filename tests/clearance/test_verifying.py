"""Checking offline: the good statement holds, every tampered one is found out, by us and by another library.

The other library is jwcrypto; what it does here is the offline verifier that a customer could write himself
from RFC 7515, 8037 and 9864. The vectors are those of RFC 8037, appendix A.
"""

import base64
import hashlib
import hmac
import io
import time
from collections.abc import Mapping
from datetime import timedelta
from pathlib import Path
from typing import Any

import orjson
import pytest
from click.testing import CliRunner
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from joserfc import jws
from joserfc.errors import SecurityWarning
from joserfc.jwk import OKPKey
from jwcrypto.common import JWException
from jwcrypto.jwk import JWKSet
from jwcrypto.jws import JWS
from pypdf import PdfReader, PdfWriter
from pypdf.generic import NameObject, StreamObject

from service.clearance.pdf import ATTACHMENT, statement_pdf
from service.clearance.signing import new_key, public_jwks, sign
from service.clearance.verifying import LARGEST, verify
from service.cli import main
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


@pytest.mark.parametrize("place", [0, 1, 17, 42, 84, 85])
def test_a_changed_signature_is_found_out(place: int) -> None:
    start, signature = TOKEN.rsplit(".", 1)
    for letter in {"A", "B", "_"} - {signature[place]}:
        token = f"{start}.{signature[:place]}{letter}{signature[place + 1 :]}"
        assert codes(token) in (["signature"], ["no-statement"])
        # Spare bits of the last letter: the other library reads the same signature, we take one form only.
        assert accepted(token, KEY) is None or place == 85


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


@pytest.mark.parametrize("place", range(0, len(PAGE), 997))
def test_any_changed_byte_of_the_page_is_found_out(place: int) -> None:
    changed = bytearray(PAGE)
    changed[place] ^= 0x01
    assert codes(bytes(changed)) != []


@pytest.mark.parametrize(
    "tampered",
    [PAGE + b"\n", PAGE[:-1], PAGE + PAGE, b"%PDF-1.7\n", PAGE[:2000]],
    ids=["longer", "shorter", "twice", "empty", "torn"],
)
def test_a_page_made_longer_or_shorter_is_found_out(tampered: bytes) -> None:
    assert codes(tampered) in (["page-differs"], ["no-statement"])


def attached_anew(token: str) -> bytes:
    """Our page with another signed statement inside."""
    writer = PdfWriter(clone_from=io.BytesIO(PAGE))
    del writer.root_object["/Names"]
    writer.add_attachment(ATTACHMENT, token.encode())
    whole = io.BytesIO()
    writer.write(whole)
    return whole.getvalue()


def test_a_genuine_statement_of_other_plants_put_inside_is_found_out() -> None:
    other = sign({**SAID, "jti": "Z" * 26, "quantity": 4000}, KEY)
    swapped = attached_anew(other)
    assert PdfReader(io.BytesIO(swapped)).attachments[ATTACHMENT] == [other.encode()]
    verdict = verify(swapped, [KEY], TODAY)
    assert [reason.code for reason in verdict.reasons] == ["page-differs"]
    assert verdict.claims["quantity"] == 4000


def test_visible_text_changed_over_a_genuine_statement_is_found_out() -> None:
    more = statement_pdf({**SAID, "quantity": 4000}, TOKEN)
    assert PdfReader(io.BytesIO(more)).attachments[ATTACHMENT] == [TOKEN.encode()]
    assert codes(more) == ["page-differs"]


def test_a_note_laid_over_the_page_is_found_out() -> None:
    writer = PdfWriter(clone_from=io.BytesIO(PAGE))
    more = StreamObject()
    more.set_data(b"q 1 g 50 600 300 100 re f Q")
    page = writer.pages[0]
    page[NameObject("/Contents")] = writer._add_object(more)
    whole = io.BytesIO()
    writer.write(whole)
    assert codes(whole.getvalue()) == ["page-differs"]


def test_a_pdf_with_no_statement_or_with_two_is_refused() -> None:
    bare, twice = PdfWriter(), PdfWriter(clone_from=io.BytesIO(PAGE))
    bare.add_blank_page(100, 100)
    twice.add_attachment(ATTACHMENT, TOKEN.encode())
    for writer in (bare, twice):
        whole = io.BytesIO()
        writer.write(whole)
        assert codes(whole.getvalue()) == ["no-statement"]


def test_a_file_far_too_large_is_not_read() -> None:
    assert codes(b"%PDF-" + b"0" * LARGEST) == ["too-large"]
    assert codes(b"0" * (LARGEST + 1)) == ["too-large"]


def test_a_layout_of_another_day_is_not_guessed_at() -> None:
    later = {**SAID, "layout": 99}
    assert codes(statement_pdf(later, sign(later, KEY))) == ["layout"]


@pytest.fixture
def keys(tmp_path: Path) -> Path:
    path = tmp_path / "jwks.json"
    path.write_bytes(orjson.dumps(public_jwks([KEY])))
    return path


def living(days: int = 1) -> dict[str, Any]:
    """The claims, still valid today."""
    now = int(time.time())
    return {**SAID, "nbf": now - 60, "iat": now - 60, "exp": now + days * 86400}


def run(path: Path, content: bytes, *options: str, home: str = "") -> Any:
    file = path / "file"
    file.write_bytes(content)
    env = {"DIPLEDGER_HOME": home or str(path / "none"), "DIPLEDGER_SECRET_KEY": None}
    return CliRunner().invoke(main, ["verify", str(file), *options], env=env)


def test_the_command_says_plainly_that_it_is_valid_and_where_to_ask_on(tmp_path: Path, keys: Path) -> None:
    said = living()
    found = run(tmp_path, statement_pdf(said, sign(said, KEY)), "--keys", str(keys))
    assert found.exit_code == 0
    assert found.output.startswith("valid\n")
    assert "Quantity: 40 × pot" in found.output
    assert f"only its check page tells: {SAID['check_url']}" in found.output


def test_the_command_says_plainly_what_is_wrong(tmp_path: Path, keys: Path) -> None:
    said = living()
    page = statement_pdf({**said, "quantity": 9}, sign(said, KEY))
    found = run(tmp_path, page, "--keys", str(keys))
    assert found.exit_code == 1
    assert found.output.startswith("NOT VALID\n")
    assert "The page is not the one" in found.output
    assert "Quantity: 40 × pot" in found.output
    assert run(tmp_path, b"rubbish", "--keys", str(keys)).exit_code == 1


def test_the_command_answers_programs_in_json(tmp_path: Path, keys: Path) -> None:
    said = living()
    good = orjson.loads(run(tmp_path, sign(said, KEY).encode(), "--keys", str(keys), "--json").output)
    assert (good["valid"], good["kind"], good["reasons"], good["claims"]) == (True, "jws", [], said)
    bad = run(tmp_path, sign(said, OTHER).encode(), "--keys", str(keys), "--json")
    assert bad.exit_code == 1
    assert [reason["code"] for reason in orjson.loads(bad.output)["reasons"]] == ["unknown-key"]


def test_without_keys_it_says_how_to_get_them_and_trusts_none_from_the_file(tmp_path: Path) -> None:
    found = run(tmp_path, TOKEN.encode())
    assert found.exit_code == 2
    assert "/.well-known/jwks.json" in found.output
    broken = tmp_path / "broken.json"
    broken.write_text("{}")
    assert run(tmp_path, TOKEN.encode(), "--keys", str(broken)).exit_code == 2


def test_the_house_itself_checks_with_its_own_keys(tmp_path: Path) -> None:
    home = tmp_path / "home"
    home.mkdir()
    (home / "secret.key").write_text("a-secret-of-the-tests-0123456789-abcdefghij")
    said = living()
    assert run(tmp_path, sign(said, KEY).encode(), home=str(home)).exit_code == 2
    (home / "signing-key.json").write_bytes(orjson.dumps(KEY.as_dict(private=True)))
    assert run(tmp_path, sign(said, KEY).encode(), home=str(home)).exit_code == 0


def test_an_older_layout_is_shown_as_its_plain_claims(tmp_path: Path, keys: Path) -> None:
    said = {**living(), "layout": 0}
    found = run(tmp_path, sign(said, KEY).encode(), "--keys", str(keys))
    assert found.exit_code == 0
    assert '"quantity": 40' in found.output
