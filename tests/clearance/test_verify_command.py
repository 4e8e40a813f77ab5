"""`dipledger verify`: what it says to people and to programs, and which keys it trusts."""

import time
from pathlib import Path
from typing import Any

import orjson
import pytest
from click.testing import CliRunner

from service.clearance.pdf import statement_pdf
from service.clearance.signing import public_jwks, sign
from service.cli import main
from tests.clearance.test_page import SAID
from tests.clearance.test_verifying import KEY, OTHER, TOKEN


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
