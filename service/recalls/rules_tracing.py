"""Which lots something could have reached, and by which way: time-respecting reach, forward and back.

A way leads through moments that never go backward: water of one tub or water system at the same time,
a transport bag, a split, a bath that served one after the other, or a tool that was in one water and then,
not disinfected, in another. Times are
half-open: a lot that leaves at the moment another enters did not meet it. Earliest arrival over
time-respecting ways is common practice of contact tracing; the search is written from its definition.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from service.recalls.rules_facts import TICK, Cleaning, Facts, Place, Split, Use


class Direction(StrEnum):
    """Where it could have gone, or where it may have come from."""

    FORWARD = "forward"
    BACK = "back"


class Way(StrEnum):
    """How one lot could have reached another."""

    WATER = "water"
    BAG = "bag"
    SPLIT = "split"
    TOOL = "tool"
    BATH = "bath"


@dataclass(frozen=True)
class Hop:
    """One step of a way, in the order of time whatever the direction asked.

    `since` is when the waters met (for a tool or bath: when it met the water of `source`), `until` when they
    parted (`NEVER` while it lasts; for a tool or bath: when it met the water of `target`).
    """

    way: Way
    source: str
    target: str
    since: datetime
    until: datetime
    source_tub: str | None = None
    target_tub: str | None = None
    tool: str | None = None


@dataclass(frozen=True)
class Reached:
    """A lot with its earliest arrival (back: the last moment it could give); no `hop` where it began."""

    lot: str
    at: datetime
    hop: Hop | None = None


Fetch = Callable[[Mapping[str, datetime]], Facts]


def holder(lot: str, at: datetime, origins: Mapping[str, tuple[str, datetime]]) -> str:
    """The lot that its plants were part of at a moment; `origins`: a lot's parent and when it was split."""
    while lot in origins and at < origins[lot][1]:
        lot = origins[lot][0]
    return lot


def trace(start: Mapping[str, datetime], fetch: Fetch, direction: Direction) -> dict[str, Reached]:
    """Every lot within reach of `start` (lots with the moment each is followed from), these included.

    `fetch` gives the facts around lots that were just reached, each with its moment. A lot that is reached
    again at a better moment is followed anew, so that in the end every moment is the best one.
    """
    found = {lot: Reached(lot, at) for lot, at in start.items()}
    frontier = dict(start)
    while frontier:
        known = _Indexed.of(fetch(frontier))
        better: dict[str, datetime] = {}
        for lot, at in sorted(frontier.items()):
            for reached in _next(known, lot, at, direction):
                if reached.lot not in found or _is_better(reached.at, found[reached.lot].at, direction):
                    found[reached.lot] = reached
                    better[reached.lot] = reached.at
        frontier = better
    return found


def path(lot: str, found: Mapping[str, Reached], direction: Direction) -> list[Hop]:
    """The hops that explain a reached lot, in the order of time."""
    hops = []
    hop = found[lot].hop
    while hop is not None:
        hops.append(hop)
        hop = found[hop.source if direction is Direction.FORWARD else hop.target].hop
    return hops[::-1] if direction is Direction.FORWARD else hops


@dataclass(frozen=True)
class _Indexed:
    of_lot: Mapping[str, Sequence[Place]]
    in_water: Mapping[str, Sequence[Place]]
    divided: Mapping[str, Sequence[Split]]
    split_off: Mapping[str, Sequence[Split]]
    uses_in: Mapping[str, Sequence[Use]]
    uses_of: Mapping[str, Sequence[Use]]
    cleanings: Mapping[str, Sequence[Cleaning]] = field(default_factory=dict)

    @classmethod
    def of(cls, facts: Facts) -> "_Indexed":
        of_lot, in_water = defaultdict(list), defaultdict(list)
        for place in facts.places:
            of_lot[place.lot].append(place)
            in_water[place.water].append(place)
        uses_in, uses_of = defaultdict(list), defaultdict(list)
        for use in facts.uses:
            uses_in[use.water].append(use)
            uses_of[use.tool].append(use)
        cleanings = defaultdict(list)
        for cleaning in facts.cleanings:
            cleanings[cleaning.tool].append(cleaning)
        divided, split_off = defaultdict(list), defaultdict(list)
        for split in facts.splits:
            divided[split.parent].append(split)
            split_off[split.child].append(split)
        return cls(of_lot, in_water, divided, split_off, uses_in, uses_of, cleanings)


def _next(known: _Indexed, lot: str, at: datetime, direction: Direction) -> Iterator[Reached]:
    forward = direction is Direction.FORWARD
    yield from _divided(known, lot, at) if forward else _split_off(known, lot, at)
    for place in known.of_lot.get(lot, ()):
        others = [other for other in known.in_water[place.water] if other.lot != lot]
        for other in others:
            yield from _forward(place, other, at) if forward else _back(place, other, at)
        for use in known.uses_in.get(place.water, ()):
            if place.since <= use.at < place.until:
                yield from _carried_on(known, lot, use, at) if forward else _brought(known, lot, use, at)


def _divided(known: _Indexed, lot: str, at: datetime) -> Iterator[Reached]:
    for split in known.divided.get(lot, ()):
        if split.at >= at:
            yield Reached(split.child, split.at, _parted(split))


def _split_off(known: _Indexed, lot: str, at: datetime) -> Iterator[Reached]:
    for split in known.split_off.get(lot, ()):
        if split.at <= at:
            yield Reached(split.parent, split.at, _parted(split))


def _parted(split: Split) -> Hop:
    return Hop(Way.SPLIT, split.parent, split.child, split.at, split.at)


def _forward(place: Place, other: Place, at: datetime) -> Iterator[Reached]:
    since, until = max(place.since, other.since, at), min(place.until, other.until)
    if since < until:
        yield Reached(other.lot, since, _together(place, other, since, until))


def _back(place: Place, other: Place, at: datetime) -> Iterator[Reached]:
    since, until = max(place.since, other.since), min(place.until, other.until)
    if since < until and since <= at:
        yield Reached(other.lot, min(until - TICK, at), _together(other, place, since, until))


def _together(source: Place, target: Place, since: datetime, until: datetime) -> Hop:
    way = Way.BAG if source.tub is None else Way.WATER
    return Hop(way, source.lot, target.lot, since, until, source.tub, target.tub)


def _carried_on(known: _Indexed, lot: str, use: Use, at: datetime) -> Iterator[Reached]:
    for later in known.uses_of[use.tool] if use.at >= at else ():
        if _carries(known, use, later):
            for other in _there(known, later):
                yield Reached(other, later.at, _brings(lot, use, other, later))


def _brought(known: _Indexed, lot: str, use: Use, at: datetime) -> Iterator[Reached]:
    for earlier in known.uses_of[use.tool] if use.at <= at else ():
        if _carries(known, earlier, use):
            for other in _there(known, earlier):
                yield Reached(other, earlier.at, _brings(other, earlier, lot, use))


def _brings(source: str, earlier: Use, target: str, later: Use) -> Hop:
    way = Way.BATH if earlier.is_bath else Way.TOOL
    return Hop(way, source, target, earlier.at, later.at, earlier.tub, later.tub, earlier.tool)


def _carries(known: _Indexed, earlier: Use, later: Use) -> bool:
    if earlier.water == later.water or earlier.at > later.at:
        return False  # a tool that stays with one water brings nothing new
    told = max(earlier.recorded_at, later.recorded_at)
    # A disinfection entered after the contact was told undoes nothing: less evidence never clears earlier.
    return not any(
        earlier.at < cleaning.at <= later.at and cleaning.recorded_at <= told
        for cleaning in known.cleanings.get(earlier.tool, ())
    )


def _there(known: _Indexed, use: Use) -> list[str]:
    return [place.lot for place in known.in_water.get(use.water, ()) if place.since <= use.at < place.until]


def _is_better(moment: datetime, than: datetime, direction: Direction) -> bool:
    return moment < than if direction is Direction.FORWARD else moment > than
