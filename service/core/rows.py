"""Lists by exact columns: what is read, in which order, and the positional writer of what is answered.

A list says once which column each member is made of. From that come the statement, built once for each set of
filters, and a function that makes members of rows by position; neither entities nor fields pass between.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cached_property, lru_cache
from typing import Any, NamedTuple, cast

from sqlalchemy import Select, Uuid, bindparam, literal_column, select, tuple_
from sqlalchemy.orm import InstrumentedAttribute
from sqlalchemy.sql.elements import ColumnElement

from service.core.db import UtcDateTime
from service.core.wire import Column, wire

Items = list[dict[str, Any]]
Joined = Callable[[Select[Any]], Select[Any]]


class Made(NamedTuple):
    """A member that a function makes of columns."""

    make: Callable[..., Any]
    columns: tuple[Column, ...]


def of(table: Any, *names: str, within: str = "") -> dict[str, Column]:
    """Members that are called as their columns, in the object `within` where one is named."""
    return {f"{within}.{name}" if within else name: getattr(table, name) for name in names}


class Rows:
    """Members by the columns they are answered from; a dot parts the object from its member."""

    def __init__(self, members: Mapping[str, Column | Made], joined: Joined = lambda found: found) -> None:
        """Name the members in their order; `joined` adds the other tables to the statement."""
        self.members = members
        self._joined = joined
        self.columns = [column for member in members.values() for column in _columns(member)]

    @cached_property
    def statement(self) -> Select[Any]:
        """All of them, each column as it goes out."""
        return self._joined(select(*map(wire, self.columns)))

    @cached_property
    def write(self) -> Callable[[Iterable[Sequence[Any]]], Items]:
        """What makes items of rows: a display written for these members, as namedtuple writes its code."""
        code, makes = _display(self.members)
        places = "".join(f"c{n}, " for n in range(len(self.columns)))
        return eval(f"lambda rows: [{code} for {places}in rows]", makes)  # type: ignore[no-any-return]  # noqa: S307  # made of our own names alone

    def show(self, *things: Any) -> dict[str, Any]:
        """The members of entities that are at hand, one of each table."""
        at_hand: dict[Any, Any] = {type(thing): thing for thing in things}
        columns = cast(
            list[InstrumentedAttribute[Any]], self.columns
        )  # of entities there are attributes only
        return self.write([[getattr(at_hand[column.class_], column.key) for column in columns]])[0]

    def place(self, member: str) -> int:
        """Where the column of a member stands in a row."""
        before = list(self.members)[: list(self.members).index(member)]
        return sum(len(_columns(self.members[name])) for name in before)


class Listing:
    """A list in pages: its rows, the members they are ordered by (the last one unique), and its filters.

    A filter is a condition whose values are bound by name, so that its statement is built only once.
    """

    def __init__(
        self,
        rows: Rows,
        key: Sequence[str],
        where: Mapping[str, ColumnElement[bool]] | None = None,
        *,
        descending: bool = False,
    ) -> None:
        """A list of `rows`; with `descending` the greatest key comes first."""
        self.rows = rows
        self.where = where or {}
        self._places = [rows.place(name) for name in key]
        self._key = [rows.columns[place] for place in self._places]
        self._plain = [_plainly(column) for column in self._key]
        self._descending = descending
        self.statement = lru_cache(maxsize=64)(self._statement)

    def reached(self, row: Sequence[Any]) -> list[Any]:
        """The key of a row as plain values, for a cursor: a moment is `{"at": text}`."""
        return [plain(row[place]) for place, plain in zip(self._places, self._plain, strict=True)]

    def _statement(self, given: frozenset[str], limit: int, *, on: bool) -> Select[Any]:
        """At most `limit` rows that fit the filters `given`; `on`: after the values `after_0`, `after_1`.."""
        found = self.rows.statement.where(*(self.where[name] for name in sorted(given)))
        if on:
            place = tuple_(*self._key)
            last = tuple_(*(bindparam(f"after_{n}", type_=column.type) for n, column in enumerate(self._key)))
            found = found.where(place < last if self._descending else place > last)
        order = [column.desc() if self._descending else column.asc() for column in self._key]
        # The limit is written into the text: a bound one keeps PostgreSQL from reusing its plan.
        return found.order_by(*order).limit(literal_column(str(limit)))


def _plainly(column: Column) -> Callable[[Any], Any]:
    if isinstance(column.type, UtcDateTime):
        return lambda value: {"at": value if isinstance(value, str) else value.isoformat()}
    return str if isinstance(column.type, Uuid) else lambda value: value


def _columns(member: Column | Made) -> tuple[Column, ...]:
    return member.columns if isinstance(member, Made) else (member,)


def _display(members: Mapping[str, Column | Made]) -> tuple[str, dict[str, Any]]:
    makes: dict[str, Any] = {}
    tree: dict[str, Any] = {}
    place = 0
    for n, (name, member) in enumerate(members.items()):
        width = len(_columns(member))
        code = ", ".join(f"c{place + i}" for i in range(width))
        if isinstance(member, Made):
            makes[f"make_{n}"] = member.make
            code = f"make_{n}({code})"
        *objects, last = name.split(".")
        inside = tree
        for each in objects:
            inside = inside.setdefault(each, {})
        inside[last] = code
        place += width
    return _object(tree), makes


def _object(tree: Mapping[str, Any]) -> str:
    members = (
        f"{name!r}: {_object(code) if isinstance(code, dict) else code}" for name, code in tree.items()
    )
    return f"{{{', '.join(members)}}}"
