"""The tables of a database as they are, whatever its revision, those that others point to first."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.types import TypeEngine

from service.archive.rules import LEFT_OUT, Kind
from service.core.db import ID_TYPE, UtcDateTime

KINDS: tuple[tuple[type[TypeEngine[Any]], Kind], ...] = (
    (sa.DateTime, Kind.MOMENT),
    (sa.Date, Kind.DAY),
    (sa.JSON, Kind.JSON),
    (sa.LargeBinary, Kind.BYTES),
    (sa.Boolean, Kind.ANSWER),
    (sa.Uuid, Kind.ID),
    (sa.Float, Kind.NUMBER),
    (sa.Integer, Kind.NUMBER),
    (sa.String, Kind.TEXT),
)
SEEDS = ("house", "journal_head")  # the one row of each that a new database begins with


@dataclass(frozen=True)
class Shape:
    """One table: to read and write it, and what each column holds."""

    table: sa.Table
    kinds: Mapping[str, Kind]


def shapes(connection: sa.Connection) -> dict[str, Shape]:
    """Every table that belongs into an archive, those that others point to first."""
    inspector = sa.inspect(connection)
    found: dict[str, Shape] = {}
    for name, _ in inspector.get_sorted_table_and_fkc_names():
        if name is not None and name not in LEFT_OUT:
            found[str(name)] = _shape(
                inspector, str(name)
            )  # a name that remembers its quotes is no plain text
    return found


def keys_that_point(connection: sa.Connection) -> list[tuple[str, str]]:
    """Every foreign key as (table, name of the constraint)."""
    inspector = sa.inspect(connection)
    return [
        (table, str(key["name"]))
        for table in inspector.get_table_names()
        for key in inspector.get_foreign_keys(table)
    ]


def _shape(inspector: sa.Inspector, name: str) -> Shape:
    keys = inspector.get_pk_constraint(name)["constrained_columns"]
    columns, kinds = [], {}
    for found in inspector.get_columns(name):
        kind = _kind(found["type"])
        kinds[found["name"]] = kind
        columns.append(
            sa.Column(found["name"], _type(kind, found["type"]), primary_key=found["name"] in keys)
        )
    return Shape(sa.Table(name, sa.MetaData(), *columns), kinds)


def _kind(type_: TypeEngine[Any]) -> Kind:
    for known, kind in KINDS:
        if isinstance(type_, known):
            return kind
    raise TypeError(f"A column of {type_!r} has no place in an archive yet.")


def _type(kind: Kind, type_: TypeEngine[Any]) -> TypeEngine[Any]:
    if kind is Kind.MOMENT:
        return UtcDateTime()
    if kind is Kind.JSON:
        return sa.JSON(none_as_null=True)
    return ID_TYPE if kind is Kind.ID else type_
