"""Plain values as JSON and back: what a calculation was given, kept so that it can be done again.

Dataclasses become objects, named tuples and sequences lists, moments ISO text, spans of time objects of
seconds, decimals text. Reading goes by the types that the dataclass declares and refuses all else; a field
that came later, with its default, may be missing. A mapping is a document of JSON already and stays so.
"""

from collections.abc import Mapping, Sequence
from dataclasses import MISSING, Field, fields, is_dataclass
from datetime import datetime, timedelta
from decimal import Decimal, InvalidOperation
from types import NoneType, UnionType
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

T = TypeVar("T")
SECONDS = "seconds"


def written(value: Any) -> Any:
    """A value as it is kept in JSON; TypeError for a kind that `read` could not give back."""
    if value is None or isinstance(value, bool | int | str):
        return value
    if is_dataclass(value):
        return {field.name: written(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {str(name): written(item) for name, item in value.items()}
    if isinstance(value, Sequence):
        return [written(item) for item in value]
    return _text_or_number(value)


def _text_or_number(value: Any) -> Any:
    if isinstance(value, float):
        return float(value)  # a number of numpy's too
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, timedelta):
        return {SECONDS: value.total_seconds()}
    if isinstance(value, Decimal):
        return str(value)
    raise TypeError(f"{type(value).__name__} cannot be kept.")


def read(kind: type[T], value: Any) -> T:
    """A dataclass from what `written` made of it; ValueError for anything else."""
    return _read(kind, value)  # type: ignore[no-any-return]  # by what `kind` declares


def _read(kind: Any, value: Any) -> Any:
    origin = get_origin(kind)
    if origin in {Union, UnionType}:
        return _one_of(get_args(kind), value)
    if origin is Literal:
        return _checked(value, held=value in get_args(kind))
    if origin is not None:
        return _collection(origin, get_args(kind), value)
    if is_dataclass(kind):
        return _dataclass(kind, value)
    if isinstance(kind, type) and issubclass(kind, tuple):
        hints = get_type_hints(kind)
        return kind(*_each(tuple(hints.values()), value))
    return _single(kind, value)


def _one_of(kinds: Sequence[Any], value: Any) -> Any:
    if value is None:
        return _checked(value, held=NoneType in kinds)
    for kind in kinds:
        try:
            return _read(kind, value)
        except ValueError:
            continue
    raise ValueError("A value of none of its kinds.")


def _collection(origin: Any, kinds: tuple[Any, ...], value: Any) -> Any:
    if origin is Mapping:
        return _checked(value, held=isinstance(value, dict))
    _checked(value, held=isinstance(value, list))
    if origin is tuple and kinds[-1] is not Ellipsis:
        return _each(kinds, value)
    return tuple(_read(kinds[0], item) for item in value)


def _each(kinds: tuple[Any, ...], value: Any) -> tuple[Any, ...]:
    _checked(value, held=isinstance(value, list) and len(value) == len(kinds))
    return tuple(_read(kind, item) for kind, item in zip(kinds, value, strict=True))


def _dataclass(kind: Any, value: Any) -> Any:
    hints = get_type_hints(kind)
    names = {field.name for field in fields(kind)}
    needed = {field.name for field in fields(kind) if _has_no_default(field)}
    _checked(value, held=isinstance(value, dict) and needed <= set(value) <= names)
    return kind(**{name: _read(hints[name], value[name]) for name in value})


def _has_no_default(field: Field[Any]) -> bool:
    return field.default is MISSING and field.default_factory is MISSING


def _single(kind: Any, value: Any) -> Any:
    if kind is datetime:
        return datetime.fromisoformat(_checked(value, held=isinstance(value, str)))
    if kind is timedelta:
        _checked(value, held=isinstance(value, dict) and set(value) == {SECONDS})
        return timedelta(seconds=_single(float, value[SECONDS]))
    if kind is Decimal:
        return _decimal(_checked(value, held=isinstance(value, str)))
    if kind is float:
        return _checked(value, held=isinstance(value, int | float) and not isinstance(value, bool))
    return _checked(value, held=type(value) is kind)


def _decimal(text: str) -> Decimal:
    try:
        return Decimal(text)
    except InvalidOperation as wrong:
        raise ValueError("A text that is no number.") from wrong


def _checked(value: Any, *, held: bool) -> Any:
    if not held:
        raise ValueError("A value of another kind than was declared.")
    return value
