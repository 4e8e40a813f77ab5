"""A tracer that shares nothing with ours: it walks through time moment by moment and lets everything spread.

Written from the definition alone (common practice of contact tracing, no source): at each moment everything
that is in one water with something reached is reached, until nothing changes any more.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field


@dataclass
class History:
    """A random history on whole moments."""

    stays: Sequence[tuple[str, str, int, int]] = ()  # lot, water, from, to (not included)
    splits: Sequence[tuple[str, str, int]] = ()  # parent, child, moment
    uses: Sequence[tuple[str, str, int]] = ()  # tool, water, moment
    cleanings: Sequence[tuple[str, int]] = ()  # tool, moment
    lots: Sequence[str] = field(default_factory=list)

    def inside(self, water: str, moment: int) -> set[str]:
        return {lot for lot, here, since, until in self.stays if here == water and since <= moment < until}


def arrivals(history: History, start: Mapping[str, int], end: int) -> dict[str, int]:
    """When each lot is reached at the earliest, up to a last moment."""
    when: dict[str, int] = {}
    on_tool: dict[str, set[tuple[str, int]]] = {tool: set() for tool, _, _ in history.uses}
    for moment in range(min(start.values()), end + 1):
        for tool in {tool for tool, at in history.cleanings if at == moment and tool in on_tool}:
            on_tool[tool] = set()
        for lot in (lot for lot, at in start.items() if at == moment):
            when.setdefault(lot, moment)
        before = -1
        while before != len(when) + sum(map(len, on_tool.values())):
            before = len(when) + sum(map(len, on_tool.values()))
            for lot in _spread(history, set(when), on_tool, moment):
                when.setdefault(lot, moment)
    return when


def _spread(
    history: History, reached: set[str], on_tool: dict[str, set[tuple[str, int]]], moment: int
) -> Iterable[str]:
    for water in {here for _, here, _, _ in history.stays}:
        inside = history.inside(water, moment)
        if inside & reached:
            yield from inside
    yield from (child for parent, child, at in history.splits if at == moment and parent in reached)
    for tool, water in ((tool, water) for tool, water, at in history.uses if at == moment):
        if history.inside(water, moment) & reached:
            on_tool[tool].add((water, moment))
        if any(other != water for other, _ in on_tool[tool]):
            yield from history.inside(water, moment)


def departures(history: History, lot: str, at: int) -> dict[str, int]:
    """For each lot the last moment at which something in it could still reach `lot` by a moment."""
    found = {}
    for other in history.lots:
        moments = [m for m in range(at + 1) if arrivals(history, {other: m}, at).get(lot, at + 1) <= at]
        if moments:
            found[other] = max(moments)
    return found
