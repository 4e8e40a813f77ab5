"""What goes out by position is what the documented schema would make of the same values, field by field."""

from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any

import orjson
import pytest
from flask import Flask
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from marshmallow import Schema, fields
from sqlalchemy import JSON, Boolean, Date, Float, Integer, String, Uuid, cast, literal, select
from sqlalchemy.orm import Session

from service.core.db import UtcDateTime
from service.core.http import dumps
from service.core.rows import Made, Rows
from service.core.shapes import ExactAmount
from service.core.wire import wire
from service.intake import schemas as intake
from service.intake.queries import SHIPMENT
from service.lots import schemas as lots
from service.lots.shapes import ALONE, LISTED
from service.science.amounts import Amount
from service.stores import schemas as stores
from service.stores.ledger import ENTRY
from service.tubs import schemas as tubs
from service.tubs.queries import MEASUREMENT, TUB, WATER_SYSTEM
from service.tubs.tools import TOOL
from tests.api import Contract

ANSWERED: Mapping[str, tuple[Rows, type[Schema]]] = {
    "lots": (LISTED, lots.ListedLotOut),
    "lot": (ALONE, lots.LotOut),
    "shipments": (SHIPMENT, intake.ShipmentOut),
    "tubs": (TUB, tubs.TubOut),
    "water systems": (WATER_SYSTEM, tubs.WaterSystemOut),
    "measurements": (MEASUREMENT, tubs.MeasurementOut),
    "tools": (TOOL, tubs.ToolOut),
    "stock entries": (ENTRY, stores.StockEntryOut),
}
FIXTURE = HealthCheck.function_scoped_fixture
TEXTS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=12)
START, SECONDS = datetime(2000, 1, 1, tzinfo=UTC), 3_000_000_000
MOMENTS = st.builds(
    lambda seconds, rest: START + timedelta(seconds=seconds, microseconds=rest),
    st.integers(0, SECONDS),
    st.sampled_from([0, 1, 500_000, 999_999]),
)
VALUES: Mapping[type, st.SearchStrategy[Any]] = {
    UtcDateTime: MOMENTS,
    Boolean: st.booleans(),
    Integer: st.integers(-(2**31), 2**31 - 1),
    Float: st.floats(-1e9, 1e9),
    Uuid: st.uuids().map(str),
    Date: st.dates(date(2000, 1, 1), date(2099, 12, 31)),
    String: TEXTS,
}
# What JSON holds, by the member that it is answered as.
PARTS = st.fixed_dictionaries(
    {"name": TEXTS, "quantity": st.integers(1, 99), "plant_id": st.uuids().map(str)}
)
PAPER = st.fixed_dictionaries({"kind": TEXTS, "number": TEXTS})
DOCUMENTS: Mapping[str, st.SearchStrategy[Any]] = {
    "strata": st.lists(PARTS, max_size=2),
    "documents": st.lists(PAPER, max_size=2),
}
HOLD = st.fixed_dictionaries({"id": st.uuids().map(str), "cause": TEXTS, "since": MOMENTS})
GATHERED: Mapping[str, st.SearchStrategy[Any]] = {
    "holds": st.lists(HOLD, max_size=2, unique_by=lambda h: h["id"])
}


def members(schema: Schema, named: Mapping[str, Any], within: str = "") -> Iterator[str]:
    """The members a schema documents, an object that `named` has not whole by the members inside it."""
    for name, field in schema.fields.items():
        here = f"{within}{name}"
        if isinstance(field, fields.Nested) and here not in named:
            yield from members(field.schema, named, f"{here}.")
        else:
            yield here


def value(name: str, column: Any) -> st.SearchStrategy[Any]:
    """What a column may hold, None where it may be empty."""
    if name in GATHERED:
        return GATHERED[name]
    if column.key == "base_unit":
        return st.sampled_from(["uL", "mg"])
    if isinstance(column.type, JSON):
        return DOCUMENTS[name]
    found = next(VALUES[kind] for kind in VALUES if isinstance(column.type, kind))
    return st.none() | found if getattr(column, "nullable", True) else found


def kept(name: str, column: Any, held: Any, kind: str) -> Any:
    """A value as the database holds it."""
    if isinstance(column.type, Float):
        return cast(literal(held, column.type), column.type)  # PostgreSQL takes a bare value for a text
    if name not in GATHERED:
        return literal(held, column.type)
    if kind == "sqlite":
        rows = [{**row, "since": f"{row['since']:%F %H:%M:%S.%f}"} for row in held]
        return literal(orjson.dumps(rows).decode())
    rows = [{**row, "since": row["since"].isoformat()} for row in held]
    return literal(rows or None, JSON(none_as_null=True))


def read(session: Session, rows: Rows, held: Mapping[str, list[Any]], kind: str) -> Any:
    """The row that holds these values, each column as it goes out."""
    pairs = [
        (name, column, one)
        for name, member in rows.members.items()
        for column, one in zip(_columns(member), held[name], strict=True)
    ]
    inner = select(*(kept(*pair, kind).label(f"c{n}") for n, pair in enumerate(pairs))).subquery()
    return session.connection().execute(select(*map(wire, inner.c))).all()


def nested(flat: Mapping[str, Any]) -> dict[str, Any]:
    """Members whose names have dots, as objects."""
    found: dict[str, Any] = {}
    for name, held in flat.items():
        *objects, last = name.split(".")
        inside = found
        for each in objects:
            inside = inside.setdefault(each, {})
        inside[last] = held
    return found


def as_answered(documented: Any) -> Any:
    """What marshmallow dumped, with moments as this interface writes them: Z for UTC."""
    if isinstance(documented, dict):
        return {name: as_answered(inside) for name, inside in documented.items()}
    if isinstance(documented, list):
        return [as_answered(inside) for inside in documented]
    moment = isinstance(documented, str) and documented.endswith("+00:00") and documented[4:5] == "-"
    return f"{documented[:-6]}Z" if moment else documented


@pytest.mark.parametrize("which", ANSWERED)
def test_every_member_that_is_documented_is_written_and_no_other(which: str) -> None:
    rows, schema = ANSWERED[which]
    assert list(members(schema(), rows.members)) == list(rows.members)


@pytest.mark.parametrize("which", ANSWERED)
@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], phases=[Phase.generate], max_examples=15
)
@given(data=st.data())
def test_what_is_written_is_what_the_schema_dumps(
    which: str, session: Session, served: tuple[Flask, Contract], database_kind: str, data: st.DataObject
) -> None:
    rows, schema = ANSWERED[which]
    held = {
        name: [data.draw(value(name, column)) for column in _columns(member)]
        for name, member in rows.members.items()
    }
    [written] = rows.write(read(session, rows, held, database_kind))
    with served[0].app_context():
        shown = {name: _made(name, member, held[name]) for name, member in rows.members.items()}
        assert orjson.loads(dumps(written)) == as_answered(schema().dump(nested(shown)))


def _columns(member: Any) -> tuple[Any, ...]:
    return member.columns if isinstance(member, Made) else (member,)


def _made(name: str, member: Any, held: list[Any]) -> Any:
    if name in GATHERED:
        return sorted(held[0], key=lambda row: (row["since"], row["id"]))
    made = member.make(*held) if isinstance(member, Made) else held[0]
    # Amounts are shown in the units that were asked for, which is `dumps`'s own business.
    return orjson.loads(dumps(made)) if isinstance(made, Amount | ExactAmount) else made
