"""Columns as they go out: what the driver gives is what orjson writes, with nothing made of it between.

A page of lots has 500 moments. Made into Python's and back into text they cost more than the whole query.
"""

from typing import Any

import orjson
from sqlalchemy import JSON, ColumnElement, Date, Dialect, Uuid, type_coerce
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.orm import InstrumentedAttribute
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement
from sqlalchemy.types import NullType, TypeDecorator

from service.core.db import UtcDateTime

Column = ColumnElement[Any] | InstrumentedAttribute[Any]


class wire_moment(FunctionElement[Any]):  # noqa: N801  # the name of the function as a statement is written
    """A moment of `UtcDateTime` as answered: RFC 3339 in UTC with Z, its fraction only where it has one."""

    inherit_cache = True
    type = NullType()


@compiles(wire_moment, "sqlite")
def _sqlite(element: wire_moment, compiler: SQLCompiler, **options: Any) -> str:
    moment = compiler.process(element.clauses, **options)
    return f"replace(replace({moment}, ' ', 'T'), '.000000', '') || 'Z'"


@compiles(wire_moment, "postgresql")
def _postgresql(element: wire_moment, compiler: SQLCompiler, **options: Any) -> str:
    return compiler.process(element.clauses, **options)  # the driver's moment: orjson writes it


class _Document(TypeDecorator[Any]):
    """JSON that is passed on as it is kept, where the driver does not read it anyway."""

    impl = NullType
    cache_ok = True

    def process_result_value(self, value: Any, dialect: Dialect) -> Any:
        """Mark a text as JSON; PostgreSQL's driver has read it."""
        return orjson.Fragment(value) if isinstance(value, str) and dialect.name == "sqlite" else value


def wire(column: Column) -> ColumnElement[Any]:
    """A column in the form in which `http.dumps` writes it, whichever database it is of."""
    if isinstance(column.type, UtcDateTime):
        return wire_moment(column)
    if isinstance(column.type, JSON):
        return type_coerce(column, _Document())
    if isinstance(column.type, Uuid | Date):
        return type_coerce(column, NullType())
    return column  # type: ignore[return-value]  # an attribute is a column where it is selected
