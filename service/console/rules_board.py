"""The board of lots: one plain reason why a lot is not for sale yet, and how far it has come."""

from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from typing import Any


def reason_code(
    lot: Mapping[str, Any], next_look_at: datetime | None, now: datetime, *, decidable: bool
) -> str:
    """The first thing that stands in the way, as a code that the page words."""
    if lot["regulated_lock"] or lot["holds"]:
        return "locked" if lot["regulated_lock"] else "held"
    if lot["state"] != "in_quarantine":
        return str(lot["state"])
    if decidable:
        return "decide"
    if lot["release_day"] is None:
        return "unknown"
    return "look" if next_look_at is not None and next_look_at <= now else "waits"


def progress(clock_started_at: str | None, release_day: str | None, now: datetime) -> float | None:
    """The share of the wait that is over, 0 to 1; None when nobody knows."""
    if clock_started_at is None or release_day is None:
        return None
    start = datetime.fromisoformat(clock_started_at)
    end = datetime.combine(date.fromisoformat(release_day), time(), UTC)
    if end <= start:
        return 1.0
    return min(1.0, max(0.0, (now - start) / (end - start)))
