"""When cups count as sealed (decision 29; common practice, no source)."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from service.inspections.rules import Find
from service.inspections.rules_sealed import Cups, sealed_reasons

WHOLE = Cups("cup", in_vitro=True, wet=False, opened_at=None)


def test_every_cup_of_a_dry_lot_grown_in_vitro_may_be_sealed() -> None:
    dead = Find("bladder_snail", "adult", 0, 1, removed=False)
    assert sealed_reasons(WHOLE, 12, 12, []) == []
    assert sealed_reasons(WHOLE, 12, 12, [dead]) == []


@pytest.mark.parametrize(
    ("cups", "word"),
    [
        (replace(WHOLE, unit_of_sale="pot"), "cups"),
        (replace(WHOLE, in_vitro=False), "in vitro"),
        (replace(WHOLE, wet=True), "in a tub"),
        (replace(WHOLE, opened_at=datetime(2026, 3, 2, tzinfo=UTC)), "opened"),
    ],
)
def test_other_lots_are_no_sealed_cups(cups: Cups, word: str) -> None:
    [reason] = sealed_reasons(cups, 12, 12, [])
    assert (reason.code, reason.pointer) == ("not-sealed", "#/method")
    assert word in reason.detail


def test_every_cup_is_looked_at_and_nothing_lives_in_one() -> None:
    snail = Find("bladder_snail", "adult", 1, 0, removed=True)
    reasons = sealed_reasons(WHOLE, 11, 12, [snail])
    assert [reason.pointer for reason in reasons] == ["#/sample_size", "#/findings"]
