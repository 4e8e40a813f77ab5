"""A calendar has a private address of its person: shown once, kept as a digest, ended at once."""

from typing import Any

import pytest
from sqlalchemy import text

from service.accounts.people import change_person
from service.accounts.people_queries import person_for_change
from service.core.clock import utc_now
from service.core.db import Database
from service.journal.acts import Act
from tests.api import Api, Client
from tests.journeys.bench import Bench
from tests.make_people import Browser, a_person

ADDRESS = "https://nursery.example/calendar/"


@pytest.fixture
def person(database: Database) -> Any:
    return a_person(database)


@pytest.fixture
def ines(api: Api, person: Any) -> Client:
    """A program of a person."""
    body = {"name": "phone", "role": "owner", "days": 9, "person_id": person.id}
    return api.with_token(api.owner.made("/tokens", body)["secret"])


def path_of(made: Any) -> str:
    assert made["secret"].startswith(ADDRESS)
    return str(made["secret"].removeprefix("https://nursery.example"))


def read(api: Api, path: str, **headers: str) -> Any:
    sent = {name.replace("_", "-"): value for name, value in headers.items()}
    return api.app.test_client().get(path, headers=sent)


def test_who_knows_the_address_reads_what_is_due(api: Api, ines: Client) -> None:
    bench = Bench(api)
    bench.batch("potassium-alum", 1000, "g")
    tub, lot = bench.tub("T1"), bench.lot("anubias-barteri", 10)["id"]
    body = {"protocol": "alum-soak", "version": 1, "tub_id": tub, "lot_ids": [lot], **bench.when(47)}
    treatment = api.grower.made("/treatments", body)["id"]
    api.grower.made(f"/treatments/{treatment}/steps/1/start", bench.when(47.5))
    path = path_of(ines.made("/calendar-address"))
    answer = read(api, path)
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "text/calendar; charset=utf-8"
    assert answer.headers["Cache-Control"] == "private, no-cache"
    due = api.grower.seen("/due-work?limit=200")["items"]
    said = answer.get_data(as_text=True).replace("\r\n ", "")
    assert due
    assert [line[4:] for line in said.split("\r\n") if line.startswith("UID:")] == [one["id"] for one in due]
    again = read(api, path, If_None_Match=answer.headers["ETag"])
    assert (again.status_code, again.get_data()) == (304, b"")


def test_a_new_address_ends_the_old_one_and_ending_ends_it(api: Api, ines: Client) -> None:
    assert ines.get("/calendar-address").status_code == 404
    first, second = (path_of(ines.made("/calendar-address")) for _ in range(2))
    assert (read(api, first).status_code, read(api, second).status_code) == (404, 200)
    assert set(ines.seen("/calendar-address")) == {"created_at"}
    assert ines.send("DELETE", "/calendar-address").status_code == 204
    assert read(api, second).status_code == 404
    assert ines.send("DELETE", "/calendar-address").status_code == 404


def test_the_secret_is_kept_nowhere(api: Api, ines: Client, database: Database) -> None:
    made = ines.made("/calendar-address", Idempotency_Key="once")
    secret = made["secret"].removeprefix(ADDRESS).removesuffix(".ics")
    assert len(secret) == 43  # 256 bits in base64url (RFC 4648)
    again = ines.post("/calendar-address", Idempotency_Key="once").get_json()
    assert again == {"created_at": made["created_at"]}
    with database.reading() as session:
        for table in ("calendar_address", "idempotency_key", "journal_entry"):
            rows = session.execute(text(f"SELECT * FROM {table}")).all()  # noqa: S608  # names of our own
            assert secret not in str(rows)


def test_it_ends_with_its_person(api: Api, ines: Client, person: Any, database: Database) -> None:
    path = path_of(ines.made("/calendar-address"))
    now = utc_now()
    with database.writing() as session:
        found = person_for_change(session, person.id)
        change_person(session, Act("tests", now, now), found, {"active": False})
    assert read(api, path).status_code == 404


def test_a_program_of_nobody_has_no_calendar(api: Api) -> None:
    refused = api.grower.post("/calendar-address")
    assert (refused.status_code, refused.get_json()["type"]) == (409, "/problems/not-a-person")


def test_other_addresses_are_not_found(api: Api, ines: Client) -> None:
    path = path_of(ines.made("/calendar-address"))
    for wrong in ("/calendar/x.ics", path.replace(".ics", "A.ics"), path[:-5] + ".ics", path.upper()):
        assert read(api, wrong).status_code == 404


def test_the_page_of_the_account_makes_shows_once_and_ends_it(api: Api, person: Any) -> None:
    browser = Browser(api.app)
    assert browser.sign_in().status_code == 303
    assert "Make an address" in browser.seen("/console/account")
    answer = browser.send("/console/account/calendar")
    page = answer.get_data(as_text=True)
    path = page.partition(f"<code>{ADDRESS}")[2].partition("</code>")[0]
    assert read(api, f"/calendar/{path}").status_code == 200
    again = browser.seen("/console/account")
    assert path not in again
    assert "End the address" in again
    assert browser.send("/console/account/calendar/end").status_code == 303
    assert read(api, f"/calendar/{path}").status_code == 404
