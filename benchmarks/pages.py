"""C1: every page of the console in a house of 10,000 lots, against the very queries it asks, bare on SQLite.

The floor is what was recorded of the page itself: the same statements with the same values on the driver,
every row fetched. So a ratio says what schemas, rules, shapes and the template add to the database's work.
Beside it stands what a view that does nothing costs in the same units: where a page asks little, that alone
takes what the page is allowed.
"""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import orjson
from flask import Flask
from sqlalchemy import event, select
from werkzeug.test import Client

from service.accounts.actions import create_token
from service.accounts.people import add_person
from service.accounts.rules import Role
from service.accounts.secrets_of_people import hashed
from service.app import create_app
from service.catalogue.models import Plant, Supplier
from service.core.clock import utc_now
from service.core.db import Database
from service.core.settings import Settings
from service.journal.acts import Act

PASSWORD = "seven wet stones in a row"
ORIGIN = "http://127.0.0.1:8000"
PAGES = (
    "round",
    "lots",
    "mix",
    "look",
    "receive",
    "tubs",
    "stores",
    "sales",
    "reservations",
    "certificates",
    "recalls",
    "trials",
    "trials/plan",
    "reports/consumption",
    "reports/losses",
    "reports/outcomes",
    "people",
    "settings",
    "account",
)
Asked = list[tuple[str, Any]]


def signed_in(settings: Settings, database: Database) -> Client:
    """A browser in which the owner is signed in."""
    now = utc_now()
    with database.writing() as session:
        add_person(
            session, Act("bench", now, now), name="Ines", role=Role.OWNER, password_hash=hashed(PASSWORD)
        )
    client = Client(create_app(settings, database, wake=lambda: None))
    answer = client.post(
        "/console/sign-in",
        data={"name": "Ines", "password": PASSWORD},
        base_url=ORIGIN,
        headers={"Origin": ORIGIN},
    )
    if answer.status_code != 303:
        raise RuntimeError(answer.status)
    return client


def addresses(client: Client, database: Database) -> Iterator[tuple[str, str]]:
    """Every page by its name: those of PAGES, and a lot that came in a shipment."""
    now = utc_now()
    with database.writing() as session:
        _, secret = create_token(session, Act("bench", now, now), name="bench", role=Role.GROWER, days=1)
        line = {"plant_id": session.scalars(select(Plant.id).limit(1)).one(), "quantity": 20}
        supplier = session.scalars(select(Supplier.id).limit(1)).one()
    body = {"supplier_id": supplier, "lines": [{**line, "unit_of_sale": "pot"}]}
    headers = {"Authorization": f"Bearer {secret}"}
    made = client.post("/api/v1/shipments", json=body, headers=headers)
    yield from ((page, f"/console/{page}") for page in PAGES)
    yield "a lot", f"/console/lots/{orjson.loads(made.get_data())['lots'][0]['id']}"


def product(client: Client, address: str) -> Callable[[], bytes]:
    """One page as a browser asks for it, without a socket."""

    def call() -> bytes:
        answer = client.get(address, base_url=ORIGIN)
        if answer.status_code != 200:
            raise RuntimeError(f"{address}: {answer.status}")
        return answer.get_data()

    return call


def nothing() -> Callable[[], bytes]:
    """A view of the framework that answers one letter and asks nothing: what no page can cost less than."""
    app = Flask("nothing")
    app.add_url_rule("/", "nothing", lambda: "-")
    client = Client(app)
    return lambda: client.get("/", base_url=ORIGIN).get_data()


def queries_of(database: Database, job: Callable[[], bytes]) -> Asked:
    """What a page asks of the database: every reading statement with its values, in order."""
    with _recorded(database) as asked:
        job()
    return [one for one in asked if one[0].lstrip().upper().startswith(("SELECT", "WITH"))]


def floor(settings: Settings, asked: Asked) -> Callable[[], int]:
    """The same statements on the driver; gives how many rows they have."""
    connection = sqlite3.connect(settings.home / "bench.sqlite3")

    def call() -> int:
        return sum(len(connection.execute(text, values).fetchall()) for text, values in asked)

    return call


@contextmanager
def _recorded(database: Database) -> Iterator[Asked]:
    asked: Asked = []

    def note(_connection: Any, _cursor: Any, text: str, values: Any, *_: Any) -> None:
        asked.append((text, values))

    event.listen(database.engine, "before_cursor_execute", note)
    yield asked
    event.remove(database.engine, "before_cursor_execute", note)
