"""The board: one plain reason, and how far a lot has come."""

from datetime import UTC, datetime
from typing import Any

import pytest

from service.console.rules_board import progress, reason_code

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
LOT = {"regulated_lock": False, "holds": [], "state": "in_quarantine", "release_day": "2026-03-20"}


@pytest.mark.parametrize(
    ("changes", "next_look_at", "decidable", "reason"),
    [
        ({"regulated_lock": True, "holds": [{}]}, None, False, "locked"),
        ({"holds": [{}]}, None, True, "held"),
        ({"state": "received"}, None, False, "received"),
        ({"state": "cleared"}, None, False, "cleared"),
        ({}, None, True, "decide"),
        ({"release_day": None}, NOW, False, "unknown"),
        ({}, NOW, False, "look"),
        ({}, datetime(2026, 3, 3, tzinfo=UTC), False, "waits"),
        ({}, None, False, "waits"),
    ],
)
def test_the_first_thing_in_the_way_is_the_reason(
    changes: dict[str, Any], next_look_at: datetime | None, decidable: bool, reason: str
) -> None:
    assert reason_code({**LOT, **changes}, next_look_at, NOW, decidable=decidable) == reason


@pytest.mark.parametrize(
    ("clock", "day", "share"),
    [
        ("2026-02-20T09:00:00Z", "2026-03-12", pytest.approx(10 / 19.625)),
        ("2026-03-12T00:00:00Z", "2026-03-12", 1.0),
        ("2026-02-01T00:00:00Z", "2026-02-20", 1.0),
        ("2026-03-04T00:00:00Z", "2026-03-20", 0.0),
        (None, "2026-03-12", None),
        ("2026-03-12T00:00:00Z", None, None),
    ],
)
def test_progress_is_the_share_of_the_wait_that_is_over(
    clock: str | None, day: str | None, share: float | None
) -> None:
    assert progress(clock, day, NOW) == share
