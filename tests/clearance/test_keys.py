"""Keys: a new one before the old, one that is withdrawn, and what follows for what they signed."""

import stat
from collections.abc import Callable
from pathlib import Path
from typing import Any

import orjson
import pytest
from click.testing import CliRunner, Result

from service.clearance.keys import listed, rotate, withdraw
from service.clearance.signing import Signer, SigningKeyProblem, kid_of, load, load_public, make_key_file
from service.clearance.verifying import verify
from service.cli import main
from service.core.clock import utc_now
from service.core.settings import Settings
from tests.api import Api
from tests.journeys.bench import Bench

Run = Callable[..., Result]


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "keys" / "key.json"
    make_key_file(path)
    return path


@pytest.fixture
def run(settings: Settings) -> Run:
    """`dipledger` of the test's own house."""
    env = {
        "DIPLEDGER_HOME": str(settings.home),
        "DIPLEDGER_DATABASE_URL": settings.database_url,
        "DIPLEDGER_SECRET_KEY": settings.secret,
        "DIPLEDGER_SIGNING_KEY_FILE": str(settings.signing_key_file),
        "DIPLEDGER_PUBLIC_URL": settings.public_url,
    }
    return lambda *words: CliRunner().invoke(main, list(words), env=env)


def states(path: Path) -> list[str]:
    return [key.state for key in listed(path)]


def test_a_new_key_signs_and_the_former_is_published_without_its_secret(file: Path) -> None:
    former = load(file)[0].thumbprint()
    made = rotate(file)
    document = orjson.loads(file.read_bytes())
    assert [key["kid"] for key in document["keys"]] == [made, former]
    assert [("d" in key) for key in document["keys"]] == [True, False]
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert states(file) == ["signs", "published"]


def test_a_withdrawn_key_is_published_no_more_and_stays_named(file: Path) -> None:
    former = load(file)[0].thumbprint()
    rotate(file)
    last = rotate(file)
    assert withdraw(file, former, utc_now())
    assert not withdraw(file, former, utc_now())
    assert states(file) == ["signs", "published", "withdrawn"]
    assert listed(file)[0].kid == last
    assert former not in [key.thumbprint() for key in load_public(file)]
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    rotate(file)
    assert states(file) == ["signs", "published", "published", "withdrawn"]


def test_the_key_that_signs_is_not_withdrawn_before_another_signs(file: Path) -> None:
    with pytest.raises(SigningKeyProblem):
        withdraw(file, load(file)[0].thumbprint(), utc_now())
    assert states(file) == ["signs"]


def test_a_running_service_sees_a_rotation(file: Path) -> None:
    signer = Signer(file, "https://nursery.example")
    first = kid_of(signer.sign({"n": 1}))
    made = rotate(file)
    assert kid_of(signer.sign({"n": 2})) == made != first
    file.unlink()
    with pytest.raises(SigningKeyProblem):  # a lost key is not silently replaced by a new one
        signer.sign({"n": 3})


def tokens(api: Api) -> list[dict[str, Any]]:
    return list(api.auditor.seen("/certificates")["items"])


def test_after_a_rotation_old_and_new_statements_are_valid(api: Api, bench: Bench, run: Run) -> None:
    bench.cleared_lot()
    assert run("keys", "rotate").exit_code == 0
    bench.cleared_lot(tub=bench.tub("Q2"))
    second, first = tokens(api)
    assert kid_of(first["jws"]) != kid_of(second["jws"])
    assert {first["status"], second["status"]} == {"valid"}
    published = [key["kid"] for key in api.nobody.seen("/.well-known/jwks.json")["keys"]]
    assert published == [kid_of(second["jws"]), kid_of(first["jws"])]
    assert [row.split()[1] for row in run("keys", "list").output.splitlines()] == ["signs", "published"]
    kinds = [entry["kind"] for entry in api.auditor.seen("/audit?limit=200")["items"]]
    assert "house.key_rotated" in kinds


def test_a_revoked_keys_living_statements_are_issued_anew_and_its_old_ones_do_not_verify(
    api: Api, bench: Bench, run: Run, settings: Settings, cleared: str
) -> None:
    sold = {"order_ref": "W-1", "customer_ref": "customer 4", "lines": [{"lot_id": cleared, "quantity": 12}]}
    sent = api.seller.made("/dispatches", sold)["id"]
    [parcel] = api.seller.made(f"/dispatches/{sent}/certificates")["items"]
    before = {item["serial"]: item for item in tokens(api)}
    kid = kid_of(parcel["jws"])

    done = run("keys", "revoke", kid)
    assert done.exit_code == 0, done.output
    assert "2 living statements were issued anew" in done.output

    trusted = load_public(settings.signing_key_file)
    after = {item["serial"]: item for item in tokens(api)}
    assert len(after) == 4
    for serial, old in before.items():
        assert after[serial]["status"] == "superseded"
        present = after[after[serial]["superseded_by"]]
        assert present["status"] == "valid"
        same = ("lot_id", "quantity", "unit_of_sale", "dispatch_id", "expires_at")
        assert [present[name] for name in same] == [old[name] for name in same]
        assert [r.code for r in verify(old["jws"].encode(), trusted, utc_now()).reasons] == ["unknown-key"]
        assert verify(present["jws"].encode(), trusted, utc_now()).valid
    assert bench.see(cleared)["certificate_serial"] in {
        s for s, item in after.items() if item["status"] == "valid"
    }
    assert kid not in str(api.nobody.seen("/.well-known/jwks.json"))
    assert states(settings.signing_key_file) == ["signs", "withdrawn"]

    again = run("keys", "revoke", kid)
    assert again.exit_code == 0
    assert "0 living statements" in again.output
    assert len(tokens(api)) == 4
    assert run("check").exit_code == 0


def test_revoking_goes_on_where_it_stopped(api: Api, bench: Bench, run: Run, settings: Settings) -> None:
    # It stopped after the key was taken out and before anything was issued anew.
    bench.cleared_lot()
    [only] = tokens(api)
    rotate(settings.signing_key_file)
    withdraw(settings.signing_key_file, kid_of(only["jws"]), utc_now())
    assert "1 living statements" in run("keys", "revoke", kid_of(only["jws"])).output
    assert [item["status"] for item in tokens(api)] == ["valid", "superseded"]


def test_a_key_that_never_was_is_not_revoked(run: Run, settings: Settings) -> None:
    make_key_file(settings.signing_key_file)
    before = settings.signing_key_file.read_bytes()
    refused = run("keys", "revoke", "nonsense")
    assert refused.exit_code == 1
    assert "There is no key nonsense" in refused.output
    assert settings.signing_key_file.read_bytes() == before


def test_a_key_file_that_cannot_be_read_is_said_to_be_so(run: Run, settings: Settings) -> None:
    settings.signing_key_file.write_text("rubbish")
    for words in (("list",), ("rotate",), ("revoke", "x")):
        refused = run("keys", *words)
        assert refused.exit_code == 1
        assert "cannot be read" in refused.output
