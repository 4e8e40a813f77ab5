"""Which numbers of a report are drawn, by what: pure."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from service.console.rules_chart import Bar, bars, ranges

Row = Mapping[str, Any]
MOST_BARS = 24
CALLED = {"lot": ("code",), "supplier": ("name",), "protocol": ("protocol", "version")}  # in the key of a row


def cost_of(rows: Sequence[Row], by: str) -> tuple[list[Bar], str]:
    """Cost added up by a member of the key or of the row, and its currency; none when money is mixed."""
    sums: dict[str, float] = {}
    currencies = set()
    for row in rows:
        if row["cost"] is not None:
            label = label_of(row, by)
            sums[label] = sums.get(label, 0.0) + float(row["cost"]["value"])
            currencies.add(row["cost"]["currency"])
    if len(currencies) != 1:
        return [], ""
    return bars(_shown(sums.items(), by)), currencies.pop()


def label_of(row: Row, by: str) -> str:
    """What a row is called: its key, which may be a member of the row itself."""
    key = row.get("key", row)
    parts = [key.get(name) for name in CALLED.get(by, (by,))]
    return " ".join(str(part) for part in parts if part) or "–"


def days_to_release(rows: Sequence[Row]) -> list[Bar]:
    """Median days to the first clearance with their limits, of what was cleared at all."""
    found = []
    for row in rows:
        told = row["days_to_release"]
        if told["median"] is not None:
            limits = told["limits"] or {"low": None, "high": None}
            found.append((row["key"], told["median"], limits["low"], limits["high"]))
    return ranges(found[:MOST_BARS])


def _shown(sums: Iterable[tuple[str, float]], by: str) -> list[tuple[str, float]]:
    """Time in its order, the newest at the end; everything else the dearest first."""
    if by in {"day", "week", "month"}:
        return sorted(sums)[-MOST_BARS:]
    return sorted(sums, key=lambda one: (-one[1], one[0]))[:MOST_BARS]
