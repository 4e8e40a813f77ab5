"""U1: every page of the console in a house of 10,000 lots, against the very queries it asks.

The floor is what was recorded of the page itself: the same statements with the same values, every row
fetched, twice: bare on the driver, and as the service sends them, through its own engine in one reading
transaction. The limit is held against the second; the first says what SQLAlchemy is worth. So a ratio
says what schemas, rules, shapes and the template add to the database's work. Beside it stands what a view
that does nothing costs in the same units.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import orjson
from flask import Flask
from sqlalchemy import Executable, event, select
from werkzeug.test import Client

from benchmarks.wsgi import asking
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
Job = Callable[[], Any]


@dataclass(frozen=True)
class Asked:
    """What a page asks of the database, in order: as the service sends it, and as the driver gets it."""

    statements: list[tuple[Executable, Any, Any]] = field(default_factory=list)
    texts: list[tuple[str, Any]] = field(default_factory=list)


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
    """One page as a browser asks for it."""
    cookie = client.get_cookie("dipledger", "127.0.0.1", "/")
    if cookie is None:
        raise RuntimeError("nobody is signed in")
    return asking(client.application, address, ORIGIN, {"Cookie": f"{cookie.key}={cookie.value}"})


def nothing() -> Callable[[], bytes]:
    """A view of the framework that answers one letter and asks nothing: what no page can cost less than."""
    app = Flask("nothing")
    app.add_url_rule("/", "nothing", lambda: "-")
    return asking(app, "/", ORIGIN, {})


def queries_of(database: Database, job: Job) -> Asked:
    """What a page asks of the database: every reading statement with its values."""
    asked = Asked()

    def executed(_connection: Any, statement: Any, several: Any, values: Any, options: Any) -> None:
        if getattr(statement, "is_select", False):
            asked.statements.append((statement, values or several, options))

    def sent_on(_connection: Any, _cursor: Any, text: str, values: Any, *_: Any) -> None:
        if text.lstrip().upper().startswith(("SELECT", "WITH")):
            asked.texts.append((text, values))

    listeners = (("before_execute", executed), ("before_cursor_execute", sent_on))
    for name, listener in listeners:
        event.listen(database.engine, name, listener)
    job()
    for name, listener in listeners:
        event.remove(database.engine, name, listener)
    return asked


def on_driver(database: Database) -> Any:
    """A connection of the driver's own that is set up as the service's are."""
    pooled = database.engine.raw_connection()
    connection: Any = pooled.driver_connection
    pooled.detach()
    connection.rollback()
    if database.engine.dialect.name == "postgresql":
        connection.autocommit = True  # as readers are; SQLite's connections already say what they begin
    return connection


def bare(database: Database, asked: Asked) -> Job:
    """The statements on the driver."""
    connection = on_driver(database)

    def call() -> int:
        return sum(len(connection.execute(text, values).fetchall()) for text, values in asked.texts)

    return call


def sent(database: Database, asked: Asked) -> Job:
    """The statements as a page sends them, options of the ORM included, through one reading session: rows,
    and no entities made of them."""

    def call() -> int:
        with database.reading() as session:
            run = session.connection().execute
            found = (
                run(what, values, execution_options=options) for what, values, options in asked.statements
            )
            return sum(len(rows.all()) for rows in found)

    return call
