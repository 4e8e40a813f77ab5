"""What treatments leave on plants, and what shows that it is gone (decision 9; figures of the policy)."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from service.clearance.rules_residue import ResidueFacts, Washed, clinging, residue_left
from service.protocols.rules import Residue

START = datetime(2026, 3, 2, 9, tzinfo=UTC)


def day(days: float) -> datetime:
    return START + timedelta(days=days)


NOTHING = ResidueFacts(None, (), 3, timedelta(days=7), 0.05)
COPPER = replace(NOTHING, lingering_since=day(0))
CHANGES = ((day(2), 1.0), (day(4), 0.5), (day(5), 0.9), (day(8), 1.0))


@pytest.mark.parametrize(
    ("changes", "copper", "at", "words", "when"),
    [
        ((), (), 10, "0 full water changes", None),
        (CHANGES[:3], ((day(9), 0.0),), 10, "2 full water changes", None),
        (((day(1), 1), (day(2), 1), (day(3), 1)), ((day(4), 0.0),), 5, "over 7 days", day(7)),
        (CHANGES, (), 10, "No copper reading", None),
        (CHANGES, ((day(7), 0.0),), 10, "No copper reading", None),
        (CHANGES, ((day(9), 0.02), (day(9.5), 0.06)), 10, "Copper reads 0.06 mg/L", None),
    ],
)
def test_copper_and_unknown_treatments_need_three_full_changes_over_a_week_and_a_reading(
    changes: Any, copper: Any, at: float, words: str, when: datetime | None
) -> None:
    left = residue_left(COPPER, Washed(changes, copper), day(at))
    assert left is not None
    assert words in left.detail
    assert left.when == when


def test_copper_is_gone_at_the_limit_of_the_policy() -> None:
    assert residue_left(COPPER, Washed(CHANGES, ((day(9), 0.05),)), day(10)) is None
    assert "3 full water changes over 7 days" in COPPER.needed


@pytest.mark.parametrize(
    ("residue", "clings"),
    [
        (Residue("chlorine", rinses=2), True),
        (Residue("chlorine", rinses=1, neutralised=True), False),
        (Residue("permanganate", rinses=3), False),
        (Residue("alum"), True),
        (Residue("alum", rinses=1), False),
        (Residue("peroxide", rinses=1), False),
        (Residue("copper"), False),  # judged by changes and readings
    ],
)
def test_baths_are_neutralised_and_rinsed_off(residue: Residue, clings: bool) -> None:
    assert bool(clinging([residue])) is clings
