"""What a database is made of and what it holds, whatever its revision: compared before and after a move."""

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from alembic.script import ScriptDirectory
from sqlalchemy import Connection, MetaData, create_engine, insert, inspect, select, text
from sqlalchemy.exc import SQLAlchemyError

from service.core.migrations import config

TRIGGERS = {
    "sqlite": "SELECT tbl_name, name, sql FROM sqlite_master WHERE type = 'trigger'",
    "postgresql": (
        "SELECT tgrelid::regclass::text, tgname, concat(pg_get_triggerdef(t.oid), tgenabled, p.prosrc)"
        " FROM pg_trigger t JOIN pg_proc p ON p.oid = tgfoid"
        " WHERE NOT tgisinternal AND pronamespace = 'public'::regnamespace"
    ),
}
ADDED_BY_ALEMBIC = "alembic_version"
THERE_FROM_THE_FIRST = ("house", "journal_head")  # tables that the migrations themselves give their one row
Row = dict[str, Any]


@contextmanager
def connected(url: str) -> Iterator[Connection]:
    """A connection of the bare driver, without anything of the service."""
    engine = create_engine(url)
    with engine.connect() as connection:
        yield connection
    engine.dispose()


def revisions() -> list[str]:
    """Every revision that a house can have, the newest first; without the second the first has no rows."""
    script = ScriptDirectory.from_config(config())
    return [found.revision for found in script.walk_revisions()][:-1]


@dataclass(frozen=True)
class Held:
    """How many rows a table has, and a digest of each column in the order of the primary key."""

    rows: int
    columns: Mapping[str, str]


@dataclass(frozen=True)
class Seen:
    """Of every table its shape, as words, and what it holds."""

    shape: Mapping[str, frozenset[str]]
    held: Mapping[str, Held]


def look(url: str) -> Seen:
    """What stands in the database."""
    with connected(url) as connection:
        seen = inspect(connection)
        keys = {
            table: key["constrained_columns"] for (_, table), key in seen.get_multi_pk_constraint().items()
        }
        held = {
            table: _held(connection, table, key) for table, key in keys.items() if table != ADDED_BY_ALEMBIC
        }
        return Seen(_shape(connection, seen), held)


def shape(url: str) -> Mapping[str, frozenset[str]]:
    """Of every table its columns, keys, constraints, indexes and triggers."""
    with connected(url) as connection:
        return _shape(connection, inspect(connection))


def _shape(connection: Connection, seen: Any) -> Mapping[str, frozenset[str]]:
    gathered = {
        "column": seen.get_multi_columns(),
        "primary key": {table: [key] for table, key in seen.get_multi_pk_constraint().items()},
        "check": seen.get_multi_check_constraints(),
        "unique": seen.get_multi_unique_constraints(),
        "index": seen.get_multi_indexes(),
        "foreign key": seen.get_multi_foreign_keys(),
    }
    found: dict[str, set[str]] = {}
    for what, tables in gathered.items():
        for (_, table), things in tables.items():
            found.setdefault(table, set()).update(_words(what, thing) for thing in things)
    for table, name, source in connection.execute(text(TRIGGERS[connection.dialect.name])):
        found[table].add(f"trigger {name}: {source}")
    return {table: frozenset(words) for table, words in found.items()}


def _words(what: str, thing: Mapping[str, Any]) -> str:
    told = {name: value for name, value in thing.items() if name not in {"comment", "autoincrement"}}
    if "dialect_options" in told:  # where an index is of some rows only
        told["dialect_options"] = {name: str(value) for name, value in told["dialect_options"].items()}
    return f"{what} {sorted((name, str(value)) for name, value in told.items())}"


def _held(connection: Connection, table: str, key: Sequence[str]) -> Held:
    order = ", ".join(f'"{name}"' for name in key) or "1"
    result = connection.execute(text(f'SELECT * FROM "{table}" ORDER BY {order}'))  # noqa: S608  # names of our own tables
    names, rows = list(result.keys()), result.all()
    columns = zip(*rows, strict=True) if rows else [()] * len(names)
    digests = (hashlib.sha256(repr(tuple(column)).encode()).hexdigest() for column in columns)
    return Held(len(rows), dict(zip(names, digests, strict=True)))


def reshaped(now: Mapping[str, frozenset[str]], wanted: Mapping[str, frozenset[str]]) -> list[str]:
    """What one has and the other has not."""
    tables = sorted({*now, *wanted})
    return [
        f"{table}: {word}"
        for table in tables
        for word in now.get(table, frozenset()) ^ wanted.get(table, frozenset())
    ]


def lost(before: Mapping[str, Held], after: Mapping[str, Held]) -> list[str]:
    """Tables of both in which rows are more or fewer, or a column that both know says something else."""
    wrong = []
    for table in sorted({*before} & {*after}):
        one, other = before[table], after[table]
        if one.rows != other.rows:
            wrong.append(table)
        else:
            known = {*one.columns} & {*other.columns}
            wrong += [f"{table}.{name}" for name in sorted(known) if one.columns[name] != other.columns[name]]
    return wrong


@dataclass(frozen=True)
class Former:
    """A house as the release of a revision knows it: its tables, and their rows in order of making."""

    tables: MetaData
    rows: Mapping[str, Sequence[Row]]

    @classmethod
    def of(cls, url: str) -> "Former":
        """Everything that stands in a database, by the columns that it has."""
        tables = MetaData()
        with connected(url) as connection:
            tables.reflect(connection)
            tables.remove(tables.tables[ADDED_BY_ALEMBIC])
            return cls(tables, {table.name: _rows(connection, table) for table in tables.sorted_tables})

    def refused_by(self, url: str) -> str | None:
        """Write all of it into an empty house and read it back, as that release would; None when that works.

        Nothing is kept there.
        """
        with connected(url) as connection:
            if connection.dialect.name == "sqlite":
                connection.exec_driver_sql("PRAGMA foreign_keys=ON")
            for name in THERE_FROM_THE_FIRST:
                connection.exec_driver_sql(f"DELETE FROM {name}")  # noqa: S608  # names above
            try:
                for table in self.tables.sorted_tables:
                    if self.rows[table.name]:
                        connection.execute(insert(table), self.rows[table.name])
                other = [
                    t.name for t in self.tables.sorted_tables if _rows(connection, t) != self.rows[t.name]
                ]
            except SQLAlchemyError as problem:
                return str(getattr(problem, "orig", problem))
        return f"read otherwise: {other}" if other else None


def _rows(connection: Connection, table: Any) -> list[Row]:
    ordered = select(table).order_by(*table.primary_key.columns)
    return [dict(row) for row in connection.execute(ordered).mappings()]
