"""P1: a page of 50 lots through the whole service against a raw WSGI function on the driver."""

import sqlite3
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import orjson
from sqlalchemy import insert, select
from sqlalchemy.dialects import sqlite

from benchmarks.wsgi import asking
from service.accounts.actions import create_token
from service.accounts.rules import Role
from service.adoption import adopt_reference
from service.app import create_app
from service.catalogue.models import Plant, Supplier
from service.core.clock import utc_now
from service.core.db import Database
from service.core.ids import new_id
from service.core.migrations import upgrade
from service.core.settings import Settings
from service.journal.acts import Act
from service.lots.models import Lot
from service.lots.shapes import NAMES, PLAIN, QUANTITY, RELEASE, lot_rows
from service.wiring import open_database

LOTS = 10_000
PATH = "/api/v1/lots?limit=50"
TRUTHS = ("untied", "kept_in_wool", "supplier_treatment_unknown", "regulated_lock", "release_day_stale")


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
    )


def house(home: Path, url: str | None = None) -> tuple[Settings, Database, str]:
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
        session.execute(insert(Lot), [_lot(n, plant, supplier.id) for n in range(LOTS)])
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


def floor(found: Settings, cursor: str) -> Callable[[], bytes]:
    """The same statement on the driver, the same members by hand, orjson: no framework at all."""
    key = (Lot.received_at, Lot.id)
    statement = lot_rows().order_by(*key).limit(51)
    text = str(statement.compile(dialect=sqlite.dialect(), compile_kwargs={"literal_binds": True}))
    connection = sqlite3.connect(found.home / "bench.sqlite3")

    def call() -> bytes:
        rows = connection.execute(text).fetchall()
        return orjson.dumps({"items": [_members(row) for row in rows[:50]], "next": cursor})

    return call


def _members(row: tuple[Any, ...]) -> dict[str, Any]:
    found = dict(zip(NAMES, row, strict=True))
    body = {name: found[name] for name in PLAIN} | {name: found[name] for name in RELEASE}
    body |= {name: _moment(found[name]) for name in ("state_since", "received_at")}
    body |= {name: bool(found[name]) for name in TRUTHS}
    body["strata"] = orjson.loads(found["strata"])
    trade_names = orjson.loads(found["trade_names"])
    return body | {
        "plant": {
            "id": found["plant_id"],
            "scientific_name": found["scientific_name"],
            "trade_name": trade_names[0] if trade_names else None,
        },
        "supplier": {"id": found["supplier_id"], "name": found["supplier_name"]},
        "quantity": {name: found[name] for name in QUANTITY},
        "holds": orjson.loads(found["holds"]),
    }


def _moment(text: str) -> str:
    return text[:19].replace(" ", "T") + "Z"


def same(one: bytes, other: bytes) -> bool:
    """Whether both did the same job: equal lots with equal members, in the same order."""
    items = orjson.loads(one)["items"]
    return len(items) == 50 and items == orjson.loads(other)["items"]
