"""P1, P2, P5, P7: pages of 50 lots and one lot not changed, against a raw WSGI function on the driver."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from operator import itemgetter
from pathlib import Path
from typing import TYPE_CHECKING, Any

import orjson
from sqlalchemy import insert, select

from benchmarks.pages import on_driver, queries_of
from benchmarks.wsgi import asking
from service.accounts.actions import create_token
from service.accounts.rules import Role
from service.adoption import adopt_reference
from service.app import create_app
from service.catalogue.models import Plant, Supplier
from service.core.clock import utc_now
from service.core.db import Database
from service.core.http import Tag, etag
from service.core.ids import new_id
from service.core.migrations import upgrade
from service.core.settings import Settings
from service.journal.acts import Act
from service.lots.models import Lot
from service.lots.shapes import LISTED, QUANTITY
from service.wiring import open_database

if TYPE_CHECKING:
    from _typeshed.wsgi import WSGIApplication

LOTS = 10_000
SHORT, FULL = (10_000, 100_000), (10_000, 1_000_000)
PATH = "/api/v1/lots?limit=50"
TRUTHS = ("untied", "kept_in_wool", "supplier_treatment_unknown", "regulated_lock", "release_day_stale")
DOCUMENTS = ("strata", "holds")
NAMES = list(LISTED.members)
PLAIN = [name for name in NAMES if "." not in name]
PLACES = itemgetter(*map(NAMES.index, PLAIN))
OBJECTS = {
    "plant": (NAMES.index("plant.id"), ("id", "scientific_name", "trade_name")),
    "supplier": (NAMES.index("supplier.id"), ("id", "name")),
    "quantity": (NAMES.index("quantity.received"), QUANTITY),
}


def settings(home: Path) -> Settings:
    """Settings of a house for measuring."""
    return Settings(
        home=home,
        database_url=f"sqlite:///{home / 'bench.sqlite3'}",
        redis_url=None,
        secret=new_id(),
        signing_key_file=home / "key.json",
        public_url="http://127.0.0.1:8000",
        log_level="WARNING",
        requests_per_minute=1_000_000,
    )


def house(home: Path, url: str | None = None, lots: int = LOTS) -> tuple[Settings, Database, str]:
    """A house with many lots, in a file unless at `url`; gives its settings, database and a token."""
    found = settings(home)
    found = found if url is None else replace(found, database_url=url)
    upgrade(found.database_url)
    database = open_database(found)
    now = utc_now()
    with database.writing() as session:
        act = Act("benchmarks", now, now)
        adopt_reference(session, act)
        _, secret = create_token(session, act, name="bench", role=Role.AUDITOR, days=1)
        supplier = Supplier(name="Fenmarsh Growers", country="NL", created_at=now)
        session.add(supplier)
        session.flush()
        plant = session.scalars(select(Plant.id).limit(1)).one()
        session.execute(insert(Lot), [_lot(n, plant, supplier.id) for n in range(lots)])
    if found.database_url.startswith("postgresql"):
        with database.engine.connect() as connection:
            connection.exec_driver_sql("ANALYZE")  # what the server does by itself within a minute
            connection.commit()
    return found, database, secret


def _lot(n: int, plant: str, supplier: str) -> dict[str, Any]:
    at = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=n)
    return {
        "code": f"26-{n:06d}",
        "plant_id": plant,
        "supplier_id": supplier,
        "shipment_id": new_id(),
        "state": "received",
        "state_since": at,
        "unit_of_sale": "pot",
        "received": 20,
        "left": 20,
        "received_at": at,
    }


def product(found: Settings, database: Database, secret: str) -> Callable[[], bytes]:
    """One request through the whole application, without a socket."""
    app = create_app(found, database, wake=lambda: None)
    return asking(app, PATH, found.public_url, {"Authorization": f"Bearer {secret}"})


def not_changed(found: Settings, database: Database, secret: str) -> Callable[[], bytes]:
    """A lot asked for by who has it already: 304."""
    app = create_app(found, database, wake=lambda: None)
    headers = {"Authorization": f"Bearer {secret}"}
    [lot] = orjson.loads(asking(app, "/api/v1/lots?limit=1", found.public_url, headers)())["items"]
    headers["If-None-Match"] = etag(Tag(lot["id"], lot["version"])).join('""')
    return asking(app, f"/api/v1/lots/{lot['id']}", found.public_url, headers, status="304")


def places(found: Settings, database: Database, secret: str) -> Callable[[], int]:
    """Three pages of 50 lots in turn: the first, one in the middle, the last but one; gives how many lots."""
    app = create_app(found, database, wake=lambda: None)
    headers = {"Authorization": f"Bearer {secret}"}
    cursors: list[str] = []
    following: str | None = ""
    while following is not None:
        cursors.append(following)
        page = asking(app, f"/api/v1/lots?limit=200{following}", found.public_url, headers)()
        upcoming = orjson.loads(page)["next"]
        following = upcoming and f"&cursor={upcoming}"
    wanted = (cursors[0], cursors[len(cursors) // 2], cursors[-1])
    pages = [asking(app, f"{PATH}{cursor}", found.public_url, headers) for cursor in wanted]
    return lambda: sum(page().count(b'"code"') for page in pages)


def floor(found: Settings, database: Database, product: Callable[[], bytes]) -> Callable[[], bytes]:
    """One request through the bare function, without a socket."""
    return asking(bare(database, product), PATH, found.public_url, {})


def bare(database: Database, product: Callable[[], bytes]) -> "WSGIApplication":
    """A raw WSGI function: the product's own statement on the driver, members by name, orjson; no more."""
    following = orjson.loads(product())["next"]
    asked = queries_of(database, product).texts
    statement, bound = next(each for each in asked if "FROM lot " in each[0])
    connection = on_driver(database)
    members = _members_of_texts if database.engine.dialect.name == "sqlite" else _members

    def app(_environ: Any, start: Any) -> list[bytes]:
        rows = connection.execute(statement, bound).fetchall()
        items = [members(row) for row in rows[:50]]
        body = orjson.dumps({"items": items, "next": following}, option=orjson.OPT_UTC_Z)
        start("200 OK", [("Content-Type", "application/json"), ("Content-Length", str(len(body)))])
        return [body]

    return app


def _members(row: tuple[Any, ...]) -> dict[str, Any]:
    found = dict(zip(PLAIN, PLACES(row), strict=True))
    for name, (start, parts) in OBJECTS.items():
        found[name] = dict(zip(parts, row[start : start + len(parts)], strict=True))
    found["holds"] = found["holds"] or ()
    return found


def _members_of_texts(row: tuple[Any, ...]) -> dict[str, Any]:
    # SQLite's driver knows neither truths nor documents.
    found = _members(row)
    for name in TRUTHS:
        found[name] = found[name] == 1
    for name in DOCUMENTS:
        found[name] = orjson.Fragment(found[name])
    return found


def same(one: bytes, other: bytes) -> bool:
    """Whether both did the same job: equal lots with equal members, in the same order."""
    items = orjson.loads(one)["items"]
    return len(items) == 50 and items == orjson.loads(other)["items"]
