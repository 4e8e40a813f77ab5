"""What a look says of the parts of a lot."""

from typing import Any

import pytest

from service.inspections.rules import LookMethod
from service.inspections.rules_strata import in_all, looked_at_reasons

STRATA: list[dict[str, Any]] = [
    {"name": "top", "quantity": 30},
    {"name": "bottom", "quantity": 10},
    {"name": "loose", "quantity": None},
]


def at(**looked_at: int) -> list[dict[str, Any]]:
    return [{"name": name, "looked_at": units} for name, units in looked_at.items()]


def test_the_sample_is_the_sum_unless_it_is_said() -> None:
    assert in_all(at(top=5, bottom=2), None) == 7
    assert in_all(at(top=5), 9) == 9
    assert in_all([], None) is None


@pytest.mark.parametrize(
    ("asked", "sample", "method", "each", "found"),
    [
        ([], None, LookMethod.STRAIN, 1, []),
        (at(top=30, bottom=10, loose=99), 139, LookMethod.EYES, 1, []),
        (at(top=60), None, LookMethod.EYES, 2, []),
        (at(top=5), None, LookMethod.BAIT, 1, [("validation", "#/strata")]),
        (at(side=5), None, LookMethod.EYES, 1, [("unknown-stratum", "#/strata/0/name")]),
        ([*at(top=1), *at(top=1)], None, LookMethod.EYES, 1, [("unknown-stratum", "#/strata/1/name")]),
        (at(top=31), None, LookMethod.EYES, 1, [("more-than-there-is", "#/strata/0/looked_at")]),
        (at(top=5), 6, LookMethod.EYES, 1, [("validation", "#/sample_size")]),
    ],
)
def test_what_is_wrong_with_the_parts_of_a_look(
    asked: list[dict[str, Any]],
    sample: int | None,
    method: LookMethod,
    each: int,
    found: list[tuple[str, str]],
) -> None:
    reasons = looked_at_reasons(asked, STRATA, sample, method, each)
    assert [(reason.code, reason.pointer) for reason in reasons] == found


def test_a_lot_without_parts_has_none_to_look_at() -> None:
    [reason] = looked_at_reasons(at(top=5), [], None, LookMethod.EYES)
    assert reason.detail == "This lot has no parts."
