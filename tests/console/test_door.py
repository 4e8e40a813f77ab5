"""The door: who gets in, how he stays in, and what is turned away."""

from datetime import timedelta

import pyotp
import pytest
from sqlalchemy import update

from service.accounts import secrets_of_people
from service.accounts.people_models import Person, SignedIn
from service.accounts.rules import Role
from service.core.clock import utc_now
from service.core.db import Database
from tests.api import Api
from tests.house import SECRET
from tests.make_people import PASSWORD, Browser, a_person

COOKIE = "__Host-dipledger"


def cookie(browser: Browser) -> str:
    found = browser.client.get_cookie(COOKIE, domain="nursery.example")
    return found.value if found else ""


def test_a_stranger_is_sent_to_the_door_and_then_where_he_wanted(
    browser: Browser, database: Database
) -> None:
    a_person(database)
    answer = browser.open("/console/account")
    assert answer.headers["Location"] == "/console/sign-in?back=/console/account"
    entered = browser.sign_in(back="/console/account")
    assert entered.headers["Location"] == "/console/account"
    assert "Signed in as" in browser.seen("/console/account")


@pytest.mark.parametrize("back", ["https://evil.example/", "//evil.example", "/console/\\evil", "/docs"])
def test_the_door_leads_nowhere_else(browser: Browser, database: Database, back: str) -> None:
    a_person(database)
    assert browser.sign_in(back=back).headers["Location"] == "/console/"


@pytest.mark.promise(r=23)
def test_the_cookie_is_bound_to_host_tls_and_this_site(browser: Browser, database: Database) -> None:
    a_person(database)
    said = browser.sign_in().headers["Set-Cookie"]
    # RFC 6265bis, 4.1.3.2: the prefix holds only with Secure, Path=/ and no Domain.
    assert said.startswith(f"{COOKIE}=")
    assert {"Secure", "HttpOnly", "Path=/", "SameSite=Lax"} <= {part.strip() for part in said.split(";")}
    assert "Domain" not in said


@pytest.mark.promise(r=22)
def test_each_sign_in_has_a_new_secret_and_signing_out_ends_it(owner: Browser) -> None:
    first = cookie(owner)
    owner.seen("/console/account")
    assert owner.send("/console/sign-out").status_code == 303
    owner.client.set_cookie(COOKIE, first, domain="nursery.example", secure=True)
    assert owner.open("/console/account").status_code == 303
    owner.sign_in()
    assert cookie(owner) not in {"", first}


@pytest.mark.parametrize("wrong", [{"name": "Otto"}, {"password": "eight wet stones in a row"}])
def test_what_was_wrong_is_not_told(browser: Browser, database: Database, wrong: dict[str, str]) -> None:
    a_person(database)
    answer = browser.sign_in(**wrong)
    assert answer.status_code == 401
    assert "Name, password or code are not right." in answer.get_data(as_text=True)


@pytest.mark.promise(r=22)
def test_after_five_failures_even_the_right_password_waits(browser: Browser, database: Database) -> None:
    a_person(database)
    for _ in range(5):
        assert browser.sign_in(password="wrong and wrong again").status_code == 401
    answer = browser.sign_in()
    assert answer.status_code == 429
    assert 0 < int(answer.headers["Retry-After"]) <= 60


@pytest.mark.promise(r=22)
def test_a_code_is_asked_for_and_counts_once(browser: Browser, database: Database) -> None:
    seed = secrets_of_people.new_seed()
    a_person(database, totp_sealed=secrets_of_people.seal(seed, SECRET))
    assert browser.sign_in().status_code == 401
    code = pyotp.TOTP(seed).now()
    assert browser.sign_in(code=code).status_code == 303
    again = Browser(browser.client.application)
    answer = again.sign_in(code=code)
    assert (answer.status_code, "used before" in answer.get_data(as_text=True)) == (401, True)


@pytest.mark.promise(r=22)
def test_somebody_let_in_no_longer_is_out_at_once(owner: Browser, database: Database) -> None:
    with database.writing() as session:
        session.execute(update(Person).values(active=False))
    assert owner.open("/console/account").status_code == 303
    assert owner.sign_in().status_code == 401


@pytest.mark.parametrize(("column", "hours"), [("seen_at", 12), ("created_at", 168)])
def test_a_session_ends_by_itself(owner: Browser, database: Database, column: str, hours: int) -> None:
    with database.writing() as session:
        session.execute(update(SignedIn).values({column: utc_now() - timedelta(hours=hours)}))
    assert owner.open("/console/account").status_code == 303


def test_being_seen_keeps_a_session(owner: Browser, database: Database) -> None:
    with database.writing() as session:
        session.execute(update(SignedIn).values(seen_at=utc_now() - timedelta(hours=11)))
    owner.seen("/console/account")
    with database.reading() as session:
        assert utc_now() - session.query(SignedIn).one().seen_at < timedelta(minutes=1)


@pytest.mark.promise(r=23)
@pytest.mark.parametrize(
    ("fields", "headers"),
    [
        ({"csrf": None}, {}),
        ({"csrf": "0" * 64}, {}),
        ({}, {"Origin": "https://evil.example"}),
        ({}, {"Origin": "null"}),
        ({}, {"Sec_Fetch_Site": "cross-site"}),
    ],
)
def test_a_forged_form_does_nothing(owner: Browser, fields: dict[str, str], headers: dict[str, str]) -> None:
    owner.seen("/console/account")
    answer = owner.send("/console/sign-out", fields, **headers)
    assert answer.status_code == 403
    owner.seen("/console/account")


@pytest.mark.promise(r=23)
def test_another_session_s_token_is_no_good(owner: Browser, database: Database) -> None:
    a_person(database, "Otto")
    other = Browser(owner.client.application)
    other.sign_in("Otto")
    other.seen("/console/account")
    assert owner.send("/console/sign-out", {"csrf": other.hidden("csrf")}).status_code == 403


@pytest.mark.promise(r=23)
def test_the_interface_takes_no_cookie_and_the_console_no_token(owner: Browser, api: Api) -> None:
    assert owner.client.get("/api/v1/lots", base_url="https://nursery.example").status_code == 401
    sent = {"Authorization": f"Bearer {api.tokens[Role.OWNER]}"}
    assert api.app.test_client().get("/console/account", headers=sent).status_code == 303


@pytest.mark.promise(r=23)
@pytest.mark.parametrize(
    "address", ["/console/account", "/console/sign-in", "/console/none", "/console/static/console.css"]
)
def test_every_page_carries_its_guards(owner: Browser, address: str) -> None:
    answer = owner.open(address)
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    assert "unsafe" not in answer.headers["Content-Security-Policy"]
    assert "frame-ancestors 'none'" in answer.headers["Content-Security-Policy"]
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Strict-Transport-Security"] == "max-age=31536000"
    assert answer.headers["Cache-Control"] == ("no-cache" if "static" in address else "no-store")


def test_a_new_password_signs_out_everywhere(owner: Browser) -> None:
    owner.seen("/console/account")
    wrong = owner.send(
        "/console/account/password", {"old": "not this one at all", "new": "nine dry stones in a row"}
    )
    assert wrong.status_code == 422
    weak = owner.send("/console/account/password", {"old": PASSWORD, "new": "short"})
    assert "12 signs or more" in weak.get_data(as_text=True)
    sent = {"old": PASSWORD, "new": "nine dry stones in a row"}
    assert owner.send("/console/account/password", sent).status_code == 303
    assert owner.open("/console/account").status_code == 303
    assert owner.sign_in().status_code == 401
    assert owner.sign_in(password="nine dry stones in a row").status_code == 303


def test_an_authenticator_is_set_up_by_typing_its_code(owner: Browser, database: Database) -> None:
    owner.seen("/console/account")
    owner.page = owner.send("/console/account/code").get_data(as_text=True)
    seed = owner.hidden("seed") or ""
    sent = {"seed": seed, "code": "000000", "old": PASSWORD}
    assert owner.send("/console/account/code/confirm", sent).status_code == 422
    assert owner.send("/console/account/code/confirm", {**sent, "old": "no"}).status_code == 422
    sent["code"] = pyotp.TOTP(seed).now()
    assert owner.send("/console/account/code/confirm", sent).status_code == 303
    assert owner.sign_in().status_code == 401


def test_light_or_dark_is_remembered_and_only_what_is_known(owner: Browser) -> None:
    owner.seen("/console/account")
    owner.send("/console/account/theme", {"theme": "dark"})
    assert 'data-theme="dark"' in owner.seen("/console/account")
    owner.send("/console/account/theme", {"theme": '"><script>'})
    assert "data-theme" not in owner.seen("/console/account")


def test_the_start_of_the_house_is_the_console(browser: Browser) -> None:
    assert browser.open("/").headers["Location"] == "/console/"
