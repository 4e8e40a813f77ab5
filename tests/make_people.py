"""People of the tests, and a browser without a screen that follows the console's forms."""

import re
from collections.abc import Mapping
from html import unescape
from typing import Any

from flask import Flask
from werkzeug.test import TestResponse

from service.accounts.people import add_person
from service.accounts.people_models import Person
from service.accounts.rules import Role
from service.accounts.secrets_of_people import hashed
from service.core.clock import utc_now
from service.core.db import Database
from service.journal.acts import Act

PASSWORD = "seven wet stones in a row"
ORIGIN = "https://nursery.example"


def a_person(database: Database, name: str = "Ines", role: Role = Role.OWNER, **more: Any) -> Person:
    """Somebody who can sign in with PASSWORD."""
    now = utc_now()
    password_hash = hashed(PASSWORD)
    with database.writing() as session:
        return add_person(
            session, Act("tests", now, now), name=name, role=role, password_hash=password_hash, **more
        )


class Browser:
    """One browser: keeps cookies, and reads the hidden fields of the page it is on."""

    def __init__(self, app: Flask) -> None:
        self.client = app.test_client()
        self.page = ""

    def open(self, address: str) -> TestResponse:
        answer = self.client.get(address, base_url=ORIGIN)
        self.page = answer.get_data(as_text=True)
        answer.close()
        return answer

    def seen(self, address: str) -> str:
        """The text of a page that must be there."""
        answer = self.open(address)
        assert answer.status_code == 200, (address, answer.status_code, self.page[:500])
        return self.page

    def send(self, address: str, fields: Mapping[str, Any] | None = None, **headers: str) -> TestResponse:
        """Send a form with the hidden csrf token and key of the page."""
        hidden = {name: self.hidden(name) for name in ("csrf", "key")}
        sent = {name: value for name, value in {**hidden, **(fields or {})}.items() if value is not None}
        said = {name.replace("_", "-"): value for name, value in headers.items()}
        return self.client.post(address, data=sent, base_url=ORIGIN, headers=said)

    def done(self, address: str, fields: Mapping[str, Any] | None = None) -> str:
        """Send a form that must succeed; gives the page it leads to."""
        answer = self.send(address, fields)
        text = answer.get_data(as_text=True)
        assert answer.status_code == 303, (address, answer.status_code, problems(text) or text[:800])
        return self.seen(answer.headers["Location"])

    def refused(self, address: str, fields: Mapping[str, Any] | None = None) -> list[str]:
        """Send a form that must be refused; gives what the page says went wrong."""
        answer = self.send(address, fields)
        self.page = answer.get_data(as_text=True)
        assert 400 <= answer.status_code < 500, (address, answer.status_code)
        return problems(self.page)

    def hidden(self, name: str) -> str | None:
        found = re.search(rf'name="{name}" value="([^"]*)"', self.page)
        return unescape(found[1]) if found else None

    def sign_in(self, name: str = "Ines", password: str = PASSWORD, **more: str) -> TestResponse:
        self.open("/console/sign-in")
        return self.send("/console/sign-in", {"name": name, "password": password, **more})


def problems(page: str) -> list[str]:
    """What a page says went wrong."""
    found = re.findall(
        r'class="problem" role="alert">(.*?)</div></div>|class="problem".*?<span>(.*?)</span>', page, re.S
    )
    return [" ".join(re.sub(r"<[^>]+>", " ", one or two).split()) for one, two in found]


def shown_text(page: str) -> str:
    """What a person reads of a page."""
    return unescape(re.sub(r"<script.*?</script>|<[^>]+>", " ", page, flags=re.S))
