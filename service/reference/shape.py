"""Reads parsed TOML into frozen dataclasses by the types that their fields declare."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import MISSING, Field, dataclass, fields, is_dataclass
from types import UnionType
from typing import Annotated, Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

from service.reference.problem import ReferenceProblem

T = TypeVar("T")


@dataclass(frozen=True)
class Place:
    """Where in the data a value stands, for the sentence that refuses it."""

    file: str
    entry: str
    field: str = ""

    def inside(self, name: object) -> "Place":
        """The place of the field `name` within this one."""
        return Place(self.file, self.entry, f"{self.field}.{name}" if self.field else str(name))

    def problem(self, detail: str) -> ReferenceProblem:
        """The refusal of what stands here."""
        return ReferenceProblem(self.file, self.entry, self.field, detail)


@dataclass(frozen=True)
class Bounds:
    """The range of a number: from `low` (or more than `above`) up to `high`."""

    low: float | None = None
    high: float | None = None
    above: float | None = None

    def check(self, value: float, place: Place) -> None:
        """Refuse a number outside the range."""
        if self.low is not None and value < self.low:
            raise place.problem(f"must be {self.low:g} or more, is {value:g}")
        if self.above is not None and value <= self.above:
            raise place.problem(f"must be more than {self.above:g}, is {value:g}")
        if self.high is not None and value > self.high:
            raise place.problem(f"must be {self.high:g} or less, is {value:g}")


def read_table(shape: type[T], table: object, place: Place) -> T:
    """An instance of the dataclass `shape` from a TOML table.

    A missing field takes the dataclass's default; one without default, an unknown field, and a value of
    another type raise `ReferenceProblem`.
    """
    given = _table(table, place)
    declared = {field.name: field for field in fields(shape)}  # type: ignore[arg-type]  # always a dataclass
    for name in given:
        if name not in declared:
            raise place.inside(name).problem("is not a known field")
    hints = get_type_hints(shape, include_extras=True)
    values = {
        name: read_value(hints[name], given[name], place.inside(name))
        for name, field in declared.items()
        if _is_given(field, given, place)
    }
    return shape(**values)


def read_list(shape: type[T], items: object, place: Place, *, key: Sequence[str]) -> tuple[T, ...]:
    """One `shape` per table of a TOML array, each named by its `key` fields, which must not occur twice."""
    if not isinstance(items, list) or not items:
        raise place.problem("must be a list of tables with at least one entry")
    read: dict[str, T] = {}
    for position, item in enumerate(items, start=1):
        entry = Place(place.file, _name(item, key) or f"{place.field} {position}")
        if entry.entry in read:
            raise entry.inside(key[-1]).problem("occurs twice")
        read[entry.entry] = read_table(shape, item, entry)
    return tuple(read.values())


def read_value(kind: Any, value: object, place: Place) -> Any:
    """The value as the declared type `kind`, or a refusal that names the place."""
    if kind in _SCALARS:
        return _SCALARS[kind](value, place)
    if is_dataclass(kind):
        return read_table(kind, value, place)  # type: ignore[arg-type]  # a class, by its declaration
    return _READERS[get_origin(kind)](get_args(kind), value, place)


def _name(item: object, key: Sequence[str]) -> str:
    named = [item.get(name) for name in key] if isinstance(item, dict) else []
    return " + ".join(str(part) for part in named) if all(named) else ""


def _is_given(field: "Field[Any]", given: Mapping[str, object], place: Place) -> bool:
    if field.name in given:
        return True
    if field.default is MISSING:
        raise place.inside(field.name).problem("is missing")
    return False


def _table(value: object, place: Place) -> dict[str, object]:
    if not isinstance(value, dict):
        raise place.problem(f"must be a table, is {value!r}")
    return value


def _items(value: object, place: Place) -> list[object]:
    if not isinstance(value, list):
        raise place.problem(f"must be a list, is {value!r}")
    return value


def _text(value: object, place: Place) -> str:
    if not isinstance(value, str) or not value.strip():
        raise place.problem(f"must be text, is {value!r}")
    return value


def _flag(value: object, place: Place) -> bool:
    if not isinstance(value, bool):
        raise place.problem(f"must be true or false, is {value!r}")
    return value


def _whole(value: object, place: Place) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise place.problem(f"must be a whole number, is {value!r}")
    return value


def _number(value: object, place: Place) -> float:
    if not isinstance(value, int | float) or isinstance(value, bool) or not math.isfinite(value):
        raise place.problem(f"must be a number, is {value!r}")
    return float(value)


def _bounded(args: tuple[Any, ...], value: object, place: Place) -> Any:
    number = read_value(args[0], value, place)
    for bounds in args[1:]:
        bounds.check(number, place)
    return number


def _one_of(args: tuple[Any, ...], value: object, place: Place) -> Any:
    if value not in args:
        raise place.problem(f"must be one of {', '.join(args)}, is {value!r}")
    return value


def _optional(args: tuple[Any, ...], value: object, place: Place) -> Any:
    return read_value(args[0], value, place)


def _tuple(args: tuple[Any, ...], value: object, place: Place) -> tuple[Any, ...]:
    items = _items(value, place)
    kinds = [args[0]] * len(items) if args[-1] is ... else list(args)
    if len(items) != len(kinds):
        raise place.problem(f"must be a list of {len(kinds)}, has {len(items)}")
    return tuple(
        read_value(kind, item, place.inside(position))
        for position, (kind, item) in enumerate(zip(kinds, items, strict=True))
    )


def _mapping(args: tuple[Any, ...], value: object, place: Place) -> dict[Any, Any]:
    names, kind = args
    return {
        read_value(names, name, place.inside(name)): read_value(kind, item, place.inside(name))
        for name, item in _table(value, place).items()
    }


_SCALARS: Mapping[Any, Callable[[object, Place], Any]] = {
    str: _text,
    bool: _flag,
    int: _whole,
    float: _number,
}
_READERS: Mapping[Any, Callable[[tuple[Any, ...], object, Place], Any]] = {
    Annotated: _bounded,
    Literal: _one_of,
    UnionType: _optional,
    Union: _optional,
    tuple: _tuple,
    Mapping: _mapping,
}
