"""Every command teaches, answers programs in JSON, and says by its exit code how it went."""

import json
import re
import subprocess
import sys
from collections.abc import Iterator
from typing import Any

import pytest
from click import Command, Context, Group
from click.testing import CliRunner, Result

from service.cli import main
from service.core.db import Database
from service.core.settings import Settings
from service.reference.loader import shipped
from tests.api import Api

RUNNING = {"serve", "web", "worker", "beat", "demo"}  # they answer nothing: they run until they are stopped


def every(group: Group, *before: str) -> Iterator[tuple[str, Command]]:
    here = Context(group)
    for name in group.list_commands(here):
        command = group.get_command(here, name)
        assert command
        if isinstance(command, Group):
            yield from every(command, *before, name)
        else:
            yield " ".join((*before, name)), command


COMMANDS = dict(every(main))


@pytest.mark.parametrize("name", COMMANDS)
def test_its_help_says_when_to_use_it_and_shows_it(name: str) -> None:
    said = CliRunner().invoke(main, [*name.split(), "--help"]).output
    assert re.search(rf"Examples?: .*dipledger {name}|dipledger {name}", said), said
    assert len(COMMANDS[name].help or "") > 80


@pytest.mark.parametrize("name", sorted(COMMANDS.keys() - RUNNING))
def test_it_can_answer_in_json(name: str) -> None:
    assert "--json" in CliRunner().invoke(main, [*name.split(), "--help"]).output


@pytest.mark.parametrize("name", COMMANDS)
def test_the_example_of_its_help_is_one_that_it_understands(name: str) -> None:
    for line in re.findall(rf"dipledger ({name}\b[^\n&;]*)", COMMANDS[name].help or ""):
        words = [word.strip('"') for word in re.findall(r'"[^"]*"|\S+', line.partition("   ")[0])]
        arguments = words[len(name.split()) :]
        checked = COMMANDS[name]
        for parameter in checked.params:  # the files of the examples are not there
            if hasattr(parameter.type, "exists"):
                parameter.type.exists = False
        with Context(checked, info_name=name) as context:
            assert checked.parse_args(context, arguments) == []


def test_a_misspelt_command_ends_with_two() -> None:
    assert CliRunner().invoke(main, ["db", "bakcup"]).exit_code == 2


def run(settings: Settings, *words: str, typed: str = "") -> Result:
    environment = {
        "DIPLEDGER_HOME": str(settings.home),
        "DIPLEDGER_DATABASE_URL": settings.database_url,
        "DIPLEDGER_SECRET_KEY": settings.secret,
    }
    return CliRunner().invoke(main, words, env=environment, input=typed)


def said(settings: Settings, *words: str, typed: str = "", exit_code: int = 0) -> Any:
    done = run(settings, *words, "--json", typed=typed)
    assert done.exit_code == exit_code, done.output
    return json.loads(done.stdout)


def test_a_token_is_made_listed_and_revoked(settings: Settings, api: Api) -> None:
    made = said(settings, "token", "create", "--role", "shop", "--name", "the shop")
    here = api.nobody.get("/inventory", Authorization=f"Bearer {made['secret']}")
    assert here.status_code == 200
    assert made["id"] in {token["id"] for token in said(settings, "token", "list")["items"]}
    assert made["secret"] not in run(settings, "token", "list").output
    assert said(settings, "token", "revoke", made["id"])["revoked_at"]
    gone = api.nobody.get("/inventory", Authorization=f"Bearer {made['secret']}")
    assert gone.status_code == 401
    assert f"off{' ' * 15}the shop" in run(settings, "token", "list").output


@pytest.mark.parametrize("which", ["nonsense", "0195a1b2-0000-7000-8000-000000000001"])
def test_a_token_that_is_not_there_cannot_be_revoked(settings: Settings, which: str) -> None:
    assert said(settings, "token", "revoke", which, exit_code=1)["code"] == "not-found"


def test_people_are_told_to_programs(settings: Settings, database: Database) -> None:
    word = "seven wet stones in a row\n"
    ines = said(settings, "user", "add", "--name", "Ines", "--role", "owner", "--password-stdin", typed=word)
    assert ines == {"name": "Ines", "role": "owner"}
    assert said(settings, "user", "code", "Ines")["address"].startswith("otpauth://totp/")
    assert said(settings, "user", "off", "Ines") == {"name": "Ines", "active": False}
    listed = said(settings, "user", "list")["items"]
    assert listed == [{"name": "Ines", "role": "owner", "active": False, "code": True}]
    assert said(settings, "user", "off", "Nobody", exit_code=1)["code"] == "not-found"


def test_keys_are_told_to_programs(settings: Settings, database: Database) -> None:
    said(settings, "init")
    kid = said(settings, "keys", "rotate")["kid"]
    [first, second] = said(settings, "keys", "list")["items"]
    assert (first["kid"], first["state"], second["state"]) == (kid, "signs", "published")
    assert said(settings, "keys", "revoke", second["kid"]) == {"kid": second["kid"], "reissued": 0}
    assert said(settings, "keys", "revoke", "nonsense", exit_code=1)["code"] == "not-found"


def test_the_journal_is_told_to_programs(settings: Settings, database: Database) -> None:
    found = said(settings, "journal", "check")
    assert found["intact"]
    assert run(settings, "journal", "check").output.split()[-1] == found["head"]


def test_rebuilding_is_told_to_programs(settings: Settings, database: Database) -> None:
    assert said(settings, "rebuild") == {"rollup_rows": 0, "tubs": 0}


def test_a_missing_secret_is_one_sentence_in_json_too(settings: Settings) -> None:
    done = CliRunner().invoke(
        main,
        ["journal", "check", "--json"],
        env={"DIPLEDGER_HOME": str(settings.home / "none"), "DIPLEDGER_SECRET_KEY": None},
    )
    assert (done.exit_code, json.loads(done.stdout)["code"]) == (1, "settings")


def test_every_figure_of_the_reference_data_is_listed_with_its_source(settings: Settings) -> None:
    found = said(settings, "reference", "list")
    assert found["version"] == shipped().version
    assert all(row["source"] and row["grade"] for row in found["items"])
    snail = next(row for row in found["items"] if row["of"] == "pests.bladder_snail.development")
    development = shipped().pests["bladder_snail"].development
    assert development is not None
    assert snail["source"] == development.source
    weak = said(settings, "reference", "list", "pests", "--grade", "assumption")["items"]
    assert weak == [r for r in found["items"] if r["of"].startswith("pests.") and r["grade"] == "assumption"]
    assert weak


def test_what_the_house_does_not_use_yet_is_said_and_taken_over(
    settings: Settings, database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert said(settings, "reference", "check")["held"]
    with database.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE pest SET figures = '{}' WHERE code = 'bladder_snail'")
    found = said(settings, "reference", "check", exit_code=1)
    assert (found["code"], "1 of pests" in found["detail"]) == ("not-adopted", True)
    assert said(settings, "reference", "adopt")["adopted"]["pests"] == 1
    assert said(settings, "reference", "check")["held"]


def test_what_starts_a_server_loads_nothing_of_the_service() -> None:
    """A watcher of 20 MB in place of one of 120; `python -X importtime` shows the rest."""
    asked = "import sys, service.cli; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    assert not {"service.wiring", "numpy", "flask", "celery"} & set(done.stdout.split())
