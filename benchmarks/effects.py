"""What an act left behind in the database, and the fewest statements of the driver that leave the same.

The floor of an act is made from the act itself: its rows are read before and after, and what is new, changed
or gone is written again by hand, one statement a table, with new ids. So a floor that leaves a table out
cannot come about, and `shape` of both must be equal before anything is timed.
"""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import count
from typing import Any
from uuid import UUID

import sqlalchemy as sa

import service.models  # noqa: F401  # every table there is
from service.core.db import Base
from service.core.ids import new_id

Row = tuple[Any, ...]
Rows = Mapping[str, Mapping[Row, Row]]  # by table and key
LONGEST_CODE = 100  # what is longer is a document, in which ids stay as they are
CLAIM = "SELECT status FROM idempotency_key WHERE scope = ?"
fresh_numbers = count(10**9)


@dataclass(frozen=True)
class Effect:
    """The rows that an act made, those it changed (key, columns, values) and those it removed, by table."""

    made: Mapping[str, Sequence[Row]]
    changed: Mapping[str, Sequence[tuple[Row, Mapping[str, Any]]]]
    removed: Mapping[str, Sequence[Row]]

    def shape(self) -> Any:
        """What two acts that do the same have in common: tables, rows and columns, without the values."""
        changed = {
            name: sorted(tuple(columns) for _, columns in found) for name, found in self.changed.items()
        }
        made, gone = ({name: len(rows) for name, rows in told.items()} for told in (self.made, self.removed))
        return made, changed, gone


def tables() -> list[sa.Table]:
    """Every table of the service, those that others point to first."""
    return list(Base.metadata.sorted_tables)


def rows_of(connection: Any) -> Rows:
    """All rows of a (small) house as the driver has them; documents as text."""
    found: dict[str, dict[Row, Row]] = {}
    for table in tables():
        keys = [n for n, column in enumerate(table.columns) if column.primary_key]
        columns = ", ".join(_asked(column) for column in table.columns)
        rows = connection.execute(f'SELECT {columns} FROM "{table.name}"').fetchall()  # noqa: S608  # our own names
        found[table.name] = {tuple(row[n] for n in keys): tuple(row) for row in rows}
    return found


def between(before: Rows, after: Rows) -> Effect:
    """What happened between two looks at the same house."""
    made, changed, removed = {}, {}, {}
    for table in tables():
        old, new = before[table.name], after[table.name]
        names = [column.name for column in table.columns]
        made[table.name] = [row for key, row in new.items() if key not in old]
        removed[table.name] = [key for key in old if key not in new]
        changed[table.name] = [
            (key, {name: now for name, now, was in zip(names, row, old[key], strict=True) if now != was})
            for key, row in new.items()
            if key in old and row != old[key]
        ]
    return Effect(*({name: rows for name, rows in told.items() if rows} for told in (made, changed, removed)))


def again(connection: Any, effect: Effect, only: Collection[str] = ()) -> Callable[[], None]:
    """The same effect on the driver in one transaction: each call with new ids.

    `only` leaves all but these tables out, and of each but one new row.
    """
    made = {
        name: rows[:1] if only else rows for name, rows in effect.made.items() if not only or name in only
    }
    sqlite = type(connection).__module__ == "sqlite3"
    place, begin = ("?", "BEGIN IMMEDIATE") if sqlite else ("%s", "BEGIN")
    tokens = set(_tokens(made))
    inserts = [(_insert(name, place), [_slots(name, row, tokens) for row in made[name]]) for name in made]
    updates = [] if only else list(_updates(effect, place))
    claim = CLAIM.replace("?", place)

    def call() -> None:
        new = {token: _fresh(token) for token in tokens}
        connection.execute(begin)
        connection.execute(claim, (new_id(),)).fetchall()
        for look, change, key, values in updates:
            connection.execute(look, key).fetchall()
            connection.execute(change, (*values, *key))
        for statement, rows in inserts:
            filled = [[made_of(new) for made_of in row] for row in rows]
            if len(filled) == 1:
                connection.execute(statement, filled[0])
            else:
                (connection if sqlite else connection.cursor()).executemany(statement, filled)
        connection.execute("COMMIT")

    return call


def _asked(column: sa.Column[Any]) -> str:
    # As text a document can be written again and compared on both databases.
    return f'CAST("{column.name}" AS TEXT)' if isinstance(column.type, sa.JSON) else f'"{column.name}"'


def _insert(name: str, place: str) -> str:
    columns = Base.metadata.tables[name].columns
    names = ", ".join(f'"{column.name}"' for column in columns)
    values = ", ".join(
        f"CAST({place} AS JSON)" if isinstance(column.type, sa.JSON) and place == "%s" else place
        for column in columns
    )
    return f'INSERT INTO "{name}" ({names}) VALUES ({values})'  # noqa: S608  # our own names


def _updates(effect: Effect, place: str) -> Iterator[tuple[str, str, Row, list[Any]]]:
    for name, rows in effect.changed.items():
        keys = [column.name for column in Base.metadata.tables[name].primary_key.columns]
        where = " AND ".join(f'"{key}" = {place}' for key in keys)
        for key, values in rows:
            names = ", ".join(f'"{column}"' for column in values)
            setting = ", ".join(f'"{column}" = {place}' for column in values)
            look = f'SELECT {names} FROM "{name}" WHERE {where}'  # noqa: S608  # our own names
            yield look, f'UPDATE "{name}" SET {setting} WHERE {where}', key, list(values.values())  # noqa: S608  # our own names


def _tokens(made: Mapping[str, Sequence[Row]]) -> Iterator[Any]:
    """What must be new in each new row: a key of one column, and whatever else may be there only once."""
    for name, rows in made.items():
        columns = Base.metadata.tables[name].columns
        single = len(Base.metadata.tables[name].primary_key.columns) == 1
        for row in rows:
            for column, value in zip(columns, row, strict=True):
                if (column.primary_key and single) or column.unique:
                    yield value


Slot = Callable[[Mapping[Any, Any]], Any]


def _slots(name: str, row: Row, tokens: Collection[Any]) -> list[Slot]:
    columns = Base.metadata.tables[name].columns
    return [_slot(column, value, tokens) for column, value in zip(columns, row, strict=True)]


def _slot(column: sa.Column[Any], value: Any, tokens: Collection[Any]) -> Slot:
    # A number is only a number unless it is a key.
    if (
        isinstance(value, str | UUID | int)
        and value in tokens
        and (column.primary_key or type(value) is not int)
    ):
        return lambda new: new[value]
    if isinstance(value, str) and 36 < len(value) <= LONGEST_CODE:  # more than an id
        inside = next((token for token in tokens if len(str(token)) >= 36 and str(token) in value), None)
        if inside is not None:
            before, _, after = value.partition(str(inside))
            return lambda new: f"{before}{new[inside]}{after}"
    return lambda _new: value


def _fresh(token: Any) -> Any:
    if isinstance(token, UUID):
        return UUID(new_id())
    if isinstance(token, int):
        return next(fresh_numbers)
    return new_id() if len(token) == 36 else f"z{next(fresh_numbers)}"
