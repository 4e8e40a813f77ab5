"""Plain values kept as JSON come back as they were; anything else is refused."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from typing import Any, Literal, NamedTuple

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.values import read, written


class Point(NamedTuple):
    at: datetime
    way: Literal["eyes", "bait"]


@dataclass(frozen=True)
class Growth:
    code: str
    threshold: float
    between: tuple[float, float] | None


@dataclass(frozen=True)
class Given:
    points: Sequence[Point]
    growth: Growth | timedelta
    share: Decimal
    last: datetime | None
    lots: int
    locked: bool
    names: tuple[str, ...]
    documents: Sequence[Mapping[str, Any]]


@dataclass(frozen=True)
class Later(Growth):
    days: int = 3


AT = datetime(2026, 3, 1, 7, 30, tzinfo=UTC)
GIVEN = Given(
    (Point(AT, "eyes"), Point(AT + timedelta(days=1, microseconds=1), "bait")),
    Growth("snail", 11.8, (11.0, 12.5)),
    Decimal("0.050"),
    None,
    20,
    locked=False,
    names=("a", "b"),
    documents=({"list": "Annex", "since": 2019},),
)


def through_json(value: Any) -> Any:
    return json.loads(json.dumps(written(value)))


@pytest.mark.parametrize("growth", [GIVEN.growth, timedelta(days=3, microseconds=7)])
@pytest.mark.parametrize("last", [None, AT.astimezone(timezone(timedelta(hours=2)))])
def test_a_value_comes_back_as_it_was(growth: Growth | timedelta, last: datetime | None) -> None:
    given_ = Given(
        GIVEN.points, growth, GIVEN.share, last, 20, locked=True, names=(), documents=GIVEN.documents
    )
    found = read(Given, through_json(given_))
    assert found == given_
    assert str(found.share) == "0.050"


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_number_comes_back_to_the_last_bit(number: float) -> None:
    assert read(Growth, through_json(Growth("x", number, None))).threshold.hex() == number.hex()


def test_a_number_of_a_calculation_is_kept_as_a_plain_one() -> None:
    assert type(written(np.float64(0.1))) is float


def test_what_could_not_come_back_is_not_kept() -> None:
    with pytest.raises(TypeError, match="set cannot be kept"):
        written({1, 2})


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("points", "none"),
        ("points", [["2026-03-01T07:30:00+00:00"]]),
        ("points", [["2026-03-01T07:30:00+00:00", "smell"]]),
        ("points", [["yesterday", "eyes"]]),
        ("growth", None),
        ("growth", {"seconds": "3"}),
        ("growth", {"code": "snail", "threshold": True, "between": None}),
        ("share", "half"),
        ("share", 0.5),
        ("last", 3),
        ("lots", True),
        ("locked", 0),
        ("names", [1]),
        ("documents", ["Annex"]),
    ],
)
def test_another_kind_than_was_declared_is_refused(name: str, value: Any) -> None:
    with pytest.raises(ValueError, match=r"kind|number|Invalid isoformat"):
        read(Given, {**written(GIVEN), name: value})


def test_a_field_that_came_later_takes_its_default() -> None:
    former = Growth("snail", 11.8, None)
    assert read(Later, through_json(former)) == Later("snail", 11.8, None, days=3)


def test_a_missing_and_an_unknown_name_are_refused() -> None:
    kept = written(GIVEN)
    wrongs: list[Any] = [{**kept, "more": 1}, {k: kept[k] for k in kept if k != "lots"}, [], None]
    for wrong in wrongs:
        with pytest.raises(ValueError, match="kind"):
            read(Given, wrong)
