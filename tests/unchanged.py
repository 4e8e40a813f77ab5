"""Proof that a refused act leaves the database as it was, journal included."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import select

from service.core.db import Base, Database

IGNORED = {"token"}  # it keeps when it was last used


def contents(database: Database) -> dict[str, list[Any]]:
    """Every row of every table."""
    with database.reading() as session:
        return {
            name: sorted(map(repr, session.execute(select(table)).all()))
            for name, table in Base.metadata.tables.items()
            if name not in IGNORED
        }


@contextmanager
def unchanged(database: Database) -> Iterator[None]:
    """Fail when the block leaves anything behind in the database."""
    before = contents(database)
    yield
    after = contents(database)
    assert {name: rows for name, rows in after.items() if rows != before[name]} == {}
