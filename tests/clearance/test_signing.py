"""Signatures, against the vectors of RFC 8037 (appendix A) and the claims' own promises."""

import stat
import threading
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import orjson
import pytest
from joserfc import jws
from joserfc.errors import BadSignatureError
from joserfc.jwk import OKPKey

from service.clearance.rules_statement import Issue, Procedure, Subject, claims, reissued
from service.clearance.signing import (
    Signer,
    SigningKeyProblem,
    load,
    make_key_file,
    new_key,
    public_jwks,
    sign,
)

# RFC 8037, appendix A.1 and A.3.
D = "nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A"
X = "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"
THUMBPRINT = "kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k"
RFC_KEY: dict[str, str | list[str]] = {"kty": "OKP", "crv": "Ed25519", "d": D, "x": X}

ISSUED = datetime(2026, 3, 2, 9, tzinfo=UTC)
ISSUE = Issue(
    serial="0123456789ABCDEFGHJKMNPQRS",
    issuer="https://nursery.example",
    issuer_name="Fenmarsh Aquatics",
    issuer_address="1 Sluice Lane",
    check_url="https://nursery.example/c/0123456789ABCDEFGHJKMNPQRS",
    issued_at=ISSUED,
    expires_at=ISSUED + timedelta(days=30),
)
SUBJECT = Subject("0190a000-0000-7000-8000-000000000000", "26-001-01", "Anubias barteri", 40, "pot")
CHANCE = {"pest": "pond_snail", "chance": 0.9712, "never_seen_share": 0.05}
PROCEDURE = Procedure(
    ["Pond snail"], [], [], ISSUED, "standard", 1, "2", "2026.11-1", [CHANCE], [], ["Eggs may rest."]
)


def test_the_key_is_named_by_its_thumbprint() -> None:
    header = jws.extract_compact(sign({}, OKPKey.import_key(RFC_KEY)).encode()).headers()
    assert header == {"alg": "Ed25519", "kid": THUMBPRINT, "typ": "snail-clearance+jwt"}


def test_the_public_keys_hold_no_secret_and_check_what_was_signed(tmp_path: Path) -> None:
    signer = Signer(tmp_path / "keys" / "key.json", "https://nursery.example")
    token = signer.sign({"lot": "26-001-01"})
    published = public_jwks(signer.keys)
    assert all("d" not in key for key in published["keys"])
    key = OKPKey.import_key(published["keys"][0])
    checked = jws.deserialize_compact(token, key, algorithms=["Ed25519"])
    assert orjson.loads(checked.payload or b"") == {"lot": "26-001-01"}


def test_a_changed_statement_does_not_check(tmp_path: Path) -> None:
    signer = Signer(tmp_path / "key.json", "https://nursery.example")
    header, _, signature = signer.sign({"quantity": 4}).split(".")
    forged = f"{header}.eyJxdWFudGl0eSI6NDB9.{signature}"
    with pytest.raises(BadSignatureError):
        jws.deserialize_compact(forged, signer.keys[0], algorithms=["Ed25519"])


def test_the_key_file_is_for_its_owner_only_and_never_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "key.json"
    threads = [threading.Thread(target=make_key_file, args=(path,)) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    before = path.read_bytes()
    make_key_file(path)
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]


def test_of_several_keys_the_first_signs_and_all_are_published(tmp_path: Path) -> None:
    former, present = new_key(), new_key()
    path = tmp_path / "key.json"
    path.write_bytes(orjson.dumps({"keys": [present, former]}))
    keys = load(path)
    assert keys[0].thumbprint() == present["kid"]
    assert [key["kid"] for key in public_jwks(keys)["keys"]] == [present["kid"], former["kid"]]


@pytest.mark.parametrize(
    "content",
    [
        b"not json",
        b"[]",
        b'{"keys": []}',
        orjson.dumps({name: value for name, value in RFC_KEY.items() if name != "d"}),
        orjson.dumps({"kty": "oct", "k": "AAAA"}),
    ],
)
def test_a_file_without_a_private_key_of_ours_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "key.json"
    path.write_bytes(content)
    with pytest.raises(SigningKeyProblem):
        load(path)


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SigningKeyProblem):
        load(tmp_path / "none.json")


def test_a_statement_says_what_it_is_and_what_it_is_not() -> None:
    said = claims(ISSUE, SUBJECT, PROCEDURE)
    assert said["statement"] == [
        "This is the seller's own statement. It is not an official plant-health document.",
        "No live pest was found by the procedure named.",
        "Not tested for shrimp: the water was not tried on shrimp or water fleas.",
        "The chance that none is left holds for the stated share never seen and the sensitivities "
        "of the named reference data; it is no guarantee.",
        "Eggs may rest.",
    ]
    assert said["looked_for"] == ["Pond snail"]
    assert said["chance_none_is_left"] == [CHANCE]
    assert (said["iat"], said["exp"] - said["iat"]) == (int(ISSUED.timestamp()), 30 * 86400)
    assert said["sub"] == f"urn:uuid:{SUBJECT.lot_id}"
    assert "free" not in str(said)


def test_a_statement_of_a_lot_without_a_clock_names_no_contact() -> None:
    without = replace(PROCEDURE, clock_started_at=None)
    assert claims(ISSUE, SUBJECT, without)["last_water_contact"] is None


def test_a_part_gets_the_same_statement_for_its_own_quantity() -> None:
    part = Subject("0190a000-0000-7000-8000-000000000001", "26-001-01-1", "Anubias barteri", 6, "pot")
    issue = Issue(**{**vars(ISSUE), "serial": "Z" * 26})
    said = reissued(claims(ISSUE, SUBJECT, PROCEDURE), issue, part)
    assert (said["jti"], said["supersedes"]) == ("Z" * 26, ISSUE.serial)
    assert (said["lot"], said["quantity"]) == ("26-001-01-1", 6)
    assert said["looked_for"] == ["Pond snail"]
