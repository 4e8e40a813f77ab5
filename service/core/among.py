"""Rows of many ids at once: a long list of them is one value, because a statement binds only so many."""

from collections.abc import Collection
from typing import Any

import orjson
from sqlalchemy import ColumnElement, String, bindparam
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.orm import InstrumentedAttribute
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import GenericFunction

Ids = InstrumentedAttribute[str] | InstrumentedAttribute[str | None]
FEW = 500  # so many are bound one by one: the planner knows then how many they are


class ids_in(GenericFunction[bool]):  # noqa: N801  # the name of the function as a statement is written
    """`ids_in(column, json)`: whether the column is one of the ids in a JSON array."""

    inherit_cache = True


def among(column: Ids, ids: Collection[str]) -> ColumnElement[bool]:
    """Whether a column of ids is one of these, however many (SQLite binds 32 766, PostgreSQL 65 535)."""
    if len(ids) <= FEW:
        return column.in_(ids)
    return ids_in(column, bindparam(None, listed(ids), String()))


def among_bound(column: Ids, name: str) -> ColumnElement[bool]:
    """The same for a statement that is built once: `listed` of the ids is bound to `name`."""
    return ids_in(column, bindparam(name, type_=String()))


def listed(ids: Collection[str]) -> str:
    """Ids as the one value that `among_bound` takes."""
    return orjson.dumps(sorted(ids)).decode()


@compiles(ids_in, "sqlite")
def _sqlite(element: ids_in, compiler: SQLCompiler, **options: Any) -> str:
    column, listed = (compiler.process(one, **options) for one in element.clauses)
    return f"{column} IN (SELECT value FROM json_each({listed}))"  # noqa: S608  # both are compiled


@compiles(ids_in, "postgresql")
def _postgresql(element: ids_in, compiler: SQLCompiler, **options: Any) -> str:
    column, listed = (compiler.process(one, **options) for one in element.clauses)
    found = f"jsonb_array_elements_text(CAST({listed} AS jsonb)) AS listed(id)"
    return f"{column} IN (SELECT CAST(listed.id AS uuid) FROM {found})"  # noqa: S608  # as above
