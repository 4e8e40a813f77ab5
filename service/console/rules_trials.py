"""What the page of a trial draws and offers: pure."""

from collections.abc import Mapping, Sequence
from typing import Any

from service.console.rules_chart import Curves, curves, stairs

OPEN = ("due", "missed")


def open_looks(schedule: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """The looks to be written now: those that are due, then those that were missed, then the next one."""
    due = [one for state in OPEN for one in schedule if one["state"] == state]
    return due or [one for one in schedule if one["state"] == "to_come"][:1]


def hatching(result: Mapping[str, Any]) -> Curves | None:
    """Share of the egg masses hatched by day, each arm, and what fresh eggs would do untreated."""
    lines = {
        f"{row['arm']}, {row['pest']}": [(p["day"], p["hatched"] / p["masses"]) for p in row["points"]]
        for row in result["hatching"]
    }
    expected = [
        [(p["day"], p["fresh"]) for p in row["points"] if p["fresh"] is not None]
        for row in result["hatching"]
    ]
    awaited = max(expected, key=len, default=[])
    return curves({**lines, "expected": awaited} if awaited else lines)


def living(result: Mapping[str, Any]) -> Curves | None:
    """Share of the plants alive by day, each arm: the stairs of Kaplan and Meier."""
    last = max((row["day"] for one in result["plants"] for row in one["condition"]), default=0)
    return curves(
        {
            f"{one['arm']}, {one['plant']}": stairs(
                [(step["day"], step["alive"]) for step in one["curve"]], max(last, 1)
            )
            for one in result["plants"]
            if one["condition"]
        }
    )
