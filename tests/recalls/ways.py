"""A brute-force tracer: from a diary of acts it lists every way there is, one by one, and keeps the earliest.

Written from the rules alone (domain.md "Water groups" and "Tracing", decisions 15 and 16 of the design;
earliest arrival over ways whose moments never go backward is common practice of contact tracing, no source).
It shares no line with the service and none with `tests.recalls.tracer`: that one walks through time, this one
walks through ways. Moments are the numbers of the acts; what an act does holds from its number on.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations


@dataclass(frozen=True)
class Meeting:
    """Something in `source` could get to `target` from one moment up to another (that one included).

    With `arrives` it leaves at a moment up to `until` and is there at `arrives`: it went by a tool.
    """

    source: str
    target: str
    since: int
    until: int
    arrives: int | None = None


@dataclass
class Diary:
    """What was done in a nursery, act after act."""

    tub_of: list[dict[str, str | None]] = field(default_factory=list)  # of each lot, after each act
    system_of: list[dict[str, str | None]] = field(default_factory=list)  # of each tub, after each act
    splits: list[tuple[str, str, int]] = field(default_factory=list)
    bags: list[tuple[Sequence[str], int]] = field(default_factory=list)
    uses: list[tuple[str, str, int]] = field(default_factory=list)
    cleanings: list[tuple[str, int]] = field(default_factory=list)
    sales: list[tuple[str, str, int]] = field(default_factory=list)
    received: dict[str, int] = field(default_factory=dict)

    def act(self) -> int:
        """Begin the next act; gives its number."""
        self.tub_of.append(dict(self.tub_of[-1]) if self.tub_of else {})
        self.system_of.append(dict(self.system_of[-1]) if self.system_of else {})
        return len(self.tub_of) - 1

    def water(self, lot: str, moment: int) -> str | None:
        """The water that a lot was in: of its tub, or of the system the tub belonged to then."""
        tub = self.tub_of[moment].get(lot)
        return None if tub is None else self.water_of_tub(tub, moment)

    def water_of_tub(self, tub: str, moment: int) -> str:
        return self.system_of[moment].get(tub) or tub

    def root(self, lot: str) -> str:
        """The lot whose part this one was when it was received."""
        parents = {child: parent for parent, child, _ in self.splits}
        while lot in parents:
            lot = parents[lot]
        return lot


def arrivals(diary: Diary, lot: str) -> dict[str, int]:
    """When something that was in a lot from its receipt on could be in each other lot at the earliest."""
    meetings: dict[str, list[Meeting]] = defaultdict(list)
    for meeting in _meetings(diary):
        meetings[meeting.source].append(meeting)
    root = diary.root(lot)
    earliest: dict[str, int] = {}
    for reached, moment in _ways(meetings, root, diary.received[root], frozenset({root})):
        earliest[reached] = min(moment, earliest.get(reached, moment))
    return earliest


def customers(diary: Diary, lot: str) -> set[str]:
    """Who got something of a lot after it could have been reached."""
    reached = arrivals(diary, lot)
    return {who for sold, who, moment in diary.sales if sold in reached and moment >= reached[sold]}


def _ways(
    meetings: dict[str, list[Meeting]], lot: str, moment: int, passed: frozenset[str]
) -> Iterator[tuple[str, int]]:
    yield lot, moment
    for meeting in meetings[lot]:
        if meeting.target not in passed and moment <= meeting.until:
            there = max(moment, meeting.since) if meeting.arrives is None else meeting.arrives
            yield from _ways(meetings, meeting.target, there, passed | {meeting.target})


def _meetings(diary: Diary) -> Iterator[Meeting]:
    lots = sorted(diary.tub_of[-1])
    for one, other in combinations(lots, 2):
        for since, until in _together(diary, one, other):
            yield Meeting(one, other, since, until)
            yield Meeting(other, one, since, until)
    for together, moment in diary.bags:
        for one in together:
            yield from (Meeting(one, other, moment, moment) for other in together if other != one)
    for parent, child, moment in diary.splits:
        yield Meeting(parent, child, moment, moment)
    yield from _carried(diary, lots)


def _together(diary: Diary, one: str, other: str) -> Iterator[tuple[int, int]]:
    """Every run of moments at which two lots were in one water."""
    since = None
    for moment in range(len(diary.tub_of)):
        here = diary.water(one, moment)
        shared = here is not None and here == diary.water(other, moment)
        if shared and since is None:
            since = moment
        if not shared and since is not None:
            yield since, moment - 1
            since = None
    if since is not None:
        yield since, len(diary.tub_of) - 1


def _carried(diary: Diary, lots: Sequence[str]) -> Iterator[Meeting]:
    for (tool, here, first), (same, there, later) in combinations(diary.uses, 2):
        cleaned = any(which == tool and first < moment <= later for which, moment in diary.cleanings)
        source, target = diary.water_of_tub(here, first), diary.water_of_tub(there, later)
        if tool != same or cleaned or source == target:
            continue
        for giver in lots:
            for taker in lots:
                if diary.water(giver, first) == source and diary.water(taker, later) == target:
                    yield Meeting(giver, taker, first, first, later)
