"""People: added by the command or the owner, proved by password and code, nothing kept in clear."""

from datetime import UTC, datetime

import pytest
from click.testing import CliRunner
from sqlalchemy import select

from service.accounts import secrets_of_people
from service.accounts.commands import user_commands
from service.accounts.people_models import Person
from service.core.db import Database
from service.core.settings import Settings
from tests.api import Api
from tests.house import SECRET
from tests.make_people import PASSWORD


class Opened:
    def __init__(self, database: Database) -> None:
        self.database = database

    def __enter__(self) -> Database:
        return self.database

    def __exit__(self, *_: object) -> None:
        return None


def run(settings: Settings, database: Database, *arguments: str, typed: str = "") -> str:
    commands = user_commands(lambda: settings, lambda: Opened(database))
    done = CliRunner().invoke(commands, arguments, input=typed)
    return f"{done.exit_code} {done.output}"


ADD = ("add", "--name", "Ines", "--role", "grower", "--password-stdin")


def test_the_command_adds_lists_and_switches_off_people(settings: Settings, database: Database) -> None:
    assert run(settings, database, *ADD, typed=f"{PASSWORD}\n").startswith("0 Ines can sign in")
    assert "Ines  grower  password" in run(settings, database, "list")
    assert run(settings, database, "off", "INES").startswith("0 ")
    assert "Ines  grower  off" in run(settings, database, "list")


def test_the_command_asks_for_the_password_twice(settings: Settings, database: Database) -> None:
    asked = run(settings, database, *ADD[:-1], typed=f"{PASSWORD}\n{PASSWORD}\n")
    assert PASSWORD not in asked
    assert asked.startswith("0 ")


def test_the_command_says_why_it_refuses(settings: Settings, database: Database) -> None:
    assert "Use 12 signs or more" in run(settings, database, *ADD, typed="short\n")
    run(settings, database, *ADD, typed=f"{PASSWORD}\n")
    assert "1 Error: There is already somebody called Ines" in run(
        settings, database, *ADD, typed=f"{PASSWORD}\n"
    )
    assert "There is nobody called Otto" in run(
        settings, database, "password", "Otto", "--password-stdin", typed=f"{PASSWORD}\n"
    )


def test_a_code_can_be_asked_for_and_no_longer(settings: Settings, database: Database) -> None:
    run(settings, database, *ADD, typed=f"{PASSWORD}\n")
    assert "otpauth://totp/Dipledger:Ines?secret=" in run(settings, database, "code", "Ines")
    assert "password and code" in run(settings, database, "list")
    run(settings, database, "code", "Ines", "--off")
    assert "password and code" not in run(settings, database, "list")


@pytest.mark.promise(r=22)
def test_only_the_hash_of_a_password_and_a_sealed_seed_are_kept(
    settings: Settings, database: Database
) -> None:
    run(settings, database, *ADD, typed=f"{PASSWORD}\n")
    shown = run(settings, database, "code", "Ines")
    seed = shown.split("secret=")[1].split("&")[0].strip()
    with database.reading() as session:
        kept = session.scalars(select(Person)).one()
    assert kept.password_hash.startswith("$argon2id$")
    assert kept.totp_sealed is not None
    assert seed not in kept.totp_sealed
    assert secrets_of_people.unseal(kept.totp_sealed, SECRET) == seed


def test_a_hash_costs_what_rfc_9106_recommends() -> None:
    # RFC 9106, section 4: the second recommended option is t=3, p=4, m=2^16 KiB, a 16-byte salt, 32 bytes.
    cost = secrets_of_people.PROFILE
    assert (cost.time_cost, cost.parallelism, cost.memory_cost) == (3, 4, 65536)
    assert (cost.salt_len, cost.hash_len) == (16, 32)


@pytest.mark.parametrize(
    ("at", "code"), [(59, "287082"), (1111111109, "081804"), (1234567890, "005924"), (2000000000, "279037")]
)
def test_codes_are_those_of_rfc_6238(at: int, code: str) -> None:
    # RFC 6238, appendix B, SHA-1 rows; its eight digits end in the six that we ask for. Seed: ASCII digits.
    seed = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"
    moment = datetime.fromtimestamp(at, UTC)
    assert secrets_of_people.step_now(seed, code, moment) == at // 30
    assert secrets_of_people.step_now(seed, "000000", moment) is None


def test_the_owner_adds_a_person_and_sees_the_first_password_once(api: Api, database: Database) -> None:
    made = api.owner.made("/users", {"name": "Otto", "role": "grower"})
    with database.reading() as session:
        kept = session.scalars(select(Person)).one()
    assert secrets_of_people.fits(kept.password_hash, made["secret"])
    assert "secret" not in api.owner.seen("/users")["items"][0]


def test_a_name_is_taken_however_it_is_written(api: Api) -> None:
    api.owner.made("/users", {"name": "Otto", "role": "grower"})
    answer = api.owner.post("/users", {"name": "  oTTO", "role": "seller"})
    assert (answer.status_code, answer.get_json()["reasons"][0]["code"]) == (409, "name-taken")


def test_the_owner_changes_role_and_password(api: Api) -> None:
    made = api.owner.post("/users", {"name": "Otto", "role": "grower"})
    path, tag = f"/users/{made.get_json()['id']}", made.headers["ETag"]
    changed = api.owner.send(
        "PATCH", path, {"role": "seller", "new_password": True}, headers={"If-Match": tag}
    )
    assert changed.get_json()["role"] == "seller"
    assert changed.get_json()["secret"] != made.get_json()["secret"]
    assert api.owner.send("PATCH", path, {"active": False}, headers={"If-Match": tag}).status_code == 412
    assert api.owner.send("PATCH", path, {"active": False}).status_code == 428


def test_people_are_the_owners_business_and_never_a_shop(api: Api) -> None:
    assert api.manager.get("/users").status_code == 403
    assert api.owner.post("/users", {"name": "Otto", "role": "shop"}).status_code == 422
