"""The owner's pages: people, tokens, the house; and a decision judged again."""

import re

from service.accounts.rules import Role
from service.core.db import Database
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_people import PASSWORD, Browser, a_person, shown_text

PEOPLE = "/console/people"


def secret_on(page: str) -> str:
    found = re.search(r'<p class="big"><code>([^<]+)</code>', page)
    assert found is not None
    return found[1]


def test_a_person_is_added_and_signs_in_with_what_was_shown_once(owner: Browser, api: Api) -> None:
    owner.seen(PEOPLE)
    answer = owner.send(PEOPLE, {"name": "Tobi", "role": "grower"})
    page = answer.get_data(as_text=True)
    assert answer.status_code == 200
    assert "shown this once" in shown_text(page)
    other = Browser(api.app)
    assert other.sign_in("Tobi", secret_on(page)).status_code == 303
    assert "Signed in as  Tobi , grower" in shown_text(other.seen("/console/account"))
    assert secret_on(page) not in owner.seen(PEOPLE)


def test_another_role_signs_him_out_everywhere(owner: Browser, api: Api, database: Database) -> None:
    tobi = a_person(database, "Tobi", Role.GROWER)
    other = Browser(api.app)
    other.sign_in("Tobi")
    other.seen("/console/account")
    owner.seen(PEOPLE)
    sent = {"role": "manager", "active": "yes", "etag": owner.hidden("etag")}
    owner.done(f"{PEOPLE}/{tobi.id}/change", sent)
    assert other.open("/console/account").status_code == 303
    assert other.sign_in("Tobi").status_code == 303
    assert "manager" in shown_text(other.seen("/console/account"))


def test_sessions_are_ended_a_password_made_new_and_a_person_shut_out(
    owner: Browser, api: Api, database: Database
) -> None:
    tobi = a_person(database, "Tobi", Role.GROWER)
    other = Browser(api.app)
    other.sign_in("Tobi")
    owner.seen(PEOPLE)
    owner.done(f"{PEOPLE}/{tobi.id}/sign-out", {"etag": owner.hidden("etag")})
    assert other.open("/console/account").status_code == 303
    answer = owner.send(f"{PEOPLE}/{tobi.id}/password", {"etag": owner.hidden("etag")})
    new = secret_on(answer.get_data(as_text=True))
    assert other.sign_in("Tobi", PASSWORD).status_code != 303
    assert other.sign_in("Tobi", new).status_code == 303
    owner.seen(PEOPLE)
    owner.done(f"{PEOPLE}/{tobi.id}/change", {"role": "grower", "etag": owner.hidden("etag")})
    assert "shut out" in shown_text(owner.page)
    assert other.sign_in("Tobi", new).status_code != 303


def test_an_older_version_of_a_person_is_not_changed(owner: Browser, database: Database) -> None:
    tobi = a_person(database, "Tobi", Role.GROWER)
    owner.seen(PEOPLE)
    assert owner.refused(f"{PEOPLE}/{tobi.id}/sign-out", {"etag": '"x-1"'}) != []


def test_a_token_is_made_and_revoked(owner: Browser, api: Api) -> None:
    owner.seen(PEOPLE)
    page = owner.send(f"{PEOPLE}/tokens", {"name": "till", "role": "shop", "days": "30"}).get_data(
        as_text=True
    )
    headers = {"Authorization": f"Bearer {secret_on(page)}"}
    client = api.app.test_client()
    assert client.get("/api/v1/inventory", headers=headers).status_code == 200
    token = next(one for one in api.owner.seen("/tokens?limit=200")["items"] if one["name"] == "till")
    owner.seen(PEOPLE)
    etag = f'"{token["id"][-12:]}-{token["version"]}"'
    owner.done(f"{PEOPLE}/tokens/{token['id']}/revoke", {"etag": etag})
    assert client.get("/api/v1/inventory", headers=headers).status_code == 401


def test_the_house_is_changed(owner: Browser, api: Api) -> None:
    owner.seen("/console/settings")
    sent = {"time_zone": "Europe/Lisbon", "locale": "en_GB", "units": "us", "country": "US"}
    owner.done("/console/settings", {**sent, "subdivision": "US-VT", "etag": owner.hidden("etag")})
    found = api.owner.seen("/settings")
    assert {name: found[name] for name in sent} == sent
    etag = owner.hidden("etag")
    told = owner.refused("/console/settings", {**sent, "time_zone": "Atlantis/Deep", "etag": etag})
    assert "IANA time zone" in told[0]
    owner.seen("/console/settings")
    owner.done("/console/settings", {"units": "si", "etag": owner.hidden("etag")})
    assert api.owner.seen("/settings")["country"] is None
    assert api.owner.seen("/settings")["time_zone"] == "Europe/Lisbon"


def test_only_the_owner_is_let_in(api: Api, database: Database, browser: Browser) -> None:
    a_person(database, "Tobi", Role.GROWER)
    browser.sign_in("Tobi")
    assert browser.open(PEOPLE).status_code == 403
    assert PEOPLE not in browser.seen("/console/account")
    assert "The owner changes it." in shown_text(browser.seen("/console/settings"))


def test_a_decision_is_judged_again(owner: Browser, api: Api) -> None:
    bench = Bench(api)
    serial = bench.see(bench.cleared_lot(20))["certificate_serial"]
    assert f"/console/certificates/{serial}/replay" in owner.seen(f"/console/certificates/{serial}")
    text = shown_text(owner.seen(f"/console/certificates/{serial}/replay"))
    assert "The same as it was decided" in text
    assert "as the journal recorded it" in text
    assert "differs" not in text
