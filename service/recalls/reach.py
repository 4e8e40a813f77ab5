"""Loading what tracing needs: only what lies around lots just reached, from then on (back: up to then)."""

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from service.lots.queries import lineages
from service.recalls import reach_queries as queries
from service.recalls.reach_queries import Own
from service.recalls.rules_facts import TICK, Cleaning, Facts, Place, Use
from service.recalls.rules_tracing import Direction, Reached, holder, trace
from service.recalls.rules_windows import Window, hull, overlap, rest
from service.tubs.waters import Spell, water_at, waters_of

Windows = dict[str, Window]


def reach(
    session: Session, start: Mapping[str, datetime], direction: Direction = Direction.FORWARD
) -> dict[str, Reached]:
    """Every lot within reach of these, each followed from its moment; before a split, from its parent."""
    origins: dict[str, tuple[str, datetime]] = {}
    for lot_id, chain in lineages(session, list(start)).items():
        child = lot_id
        for parent, at in chain:
            origins[child] = (parent, at)
            child = parent
    begun: dict[str, datetime] = {}
    better = min if direction is Direction.FORWARD else max
    for lot_id, at in start.items():
        plants = holder(lot_id, at, origins)
        begun[plants] = better(begun.get(plants, at), at)
    edge = min(begun.values()) if direction is Direction.FORWARD else max(begun.values())
    return trace(begun, _Around(session, direction, edge).fetch, direction)


class _Around:
    """The facts around lots. What is known of a tub is known of one stretch of time, which only grows."""

    def __init__(self, session: Session, direction: Direction, edge: datetime) -> None:
        self._session = session
        self._forward = direction is Direction.FORWARD
        self._edge = edge  # of the trace: nothing before it (back: after it) matters
        self._carriers = queries.carriers(session)
        self._own: dict[str, list[Own]] = {}  # stays of a lot
        self._lots: dict[str, Any] = {}  # what a lot was parted from, and its bag
        self._spells: dict[str, list[Spell]] = {}  # of a tub, over all time
        self._tubs: dict[str, set[str]] = defaultdict(set)  # of a water
        self._known: Windows = {}  # of a tub: from when up to when its places are known
        self._places: dict[str, dict[tuple[datetime, str], Place]] = defaultdict(dict)  # in a water
        self._tools: dict[str, set[str]] = {}  # that were in a water; a bath is one
        self._uses: dict[str, list[Use]] = {}  # of a tool
        self._cleanings: dict[str, list[Cleaning]] = {}  # of a tool

    def fetch(self, frontier: Mapping[str, datetime]) -> Facts:
        """The facts around these lots, each from its moment on."""
        self._follow(frontier)
        windows = self._windows(frontier)
        self._carry(windows)
        tools = {tool for water in windows for tool in self._tools.get(water, ())}
        uses = [use for tool in tools for use in self._uses[tool]]
        for use in uses:
            windows[use.water] = hull(windows.get(use.water), (use.at, use.at + TICK))
        self._stand(windows)
        own = [self._lots[lot] for lot in frontier]
        return Facts(
            [*self._there(windows), *queries.bags(self._session, own)],
            queries.splits(own, queries.divided(self._session, frontier)),
            uses,
            [cleaning for tool in tools for cleaning in self._cleanings[tool]],
        )

    def _follow(self, lots: Collection[str]) -> None:
        """Where these lots stood, and what water that was."""
        unknown = [lot for lot in lots if lot not in self._lots]
        self._lots |= {row.id: row for row in queries.parted(self._session, unknown)}
        new = [lot for lot in lots if lot not in self._own]
        self._own |= {lot: [] for lot in new}
        for stay in queries.own_stays(self._session, new, self._edge, forward=self._forward):
            self._own[stay.lot].append(stay)
        self._flow({stay.tub for lot in new for stay in self._own[lot]})

    def _flow(self, tubs: Collection[str]) -> None:
        new = set(tubs) - set(self._spells)
        if not new:
            return
        found = waters_of(self._session, new)
        self._spells |= found
        for tub, spells in found.items():
            for spell in spells:
                self._tubs[spell.water].add(tub)

    def _windows(self, frontier: Mapping[str, datetime]) -> Windows:
        """In which waters these lots were, and when they could have given or taken something there."""
        found: Windows = {}
        for lot, at in frontier.items():
            for stay in self._own[lot]:
                mattering = (at, stay.until) if self._forward else (stay.since, at + TICK)
                for water, window in self._in_waters(stay.tub, overlap((stay.since, stay.until), mattering)):
                    found[water] = hull(found.get(water), window)
        return found

    def _in_waters(self, tub: str, window: Window | None) -> Iterator[tuple[str, Window]]:
        for spell in self._spells[tub]:
            part = window and overlap(window, (spell.since, spell.until))
            if part:
                yield spell.water, part

    def _stand(self, windows: Windows) -> None:
        """Who was in these waters then."""
        missing: Windows = {}
        for water, window in windows.items():
            for tub in self._tubs[water]:
                for other, part in self._in_waters(tub, window):
                    lacking = rest(self._known.get(tub), part) if other == water else None
                    if lacking:
                        missing[tub] = hull(missing.get(tub), lacking)
        if not missing:
            return
        window = hull(*missing.values())
        self._known |= {tub: hull(self._known.get(tub), window) for tub in missing}
        for lot, stay in queries.stays_in(self._session, missing, window):
            self._lots[lot.id] = lot
            for water, part in self._in_waters(stay.tub, (stay.since, stay.until)):
                self._places[water][stay.since, stay.id] = Place(lot.id, water, stay.tub, *part)

    def _there(self, waters: Collection[str]) -> Iterator[Place]:
        for water in waters:
            for _, place in sorted(self._places[water].items()):
                yield place

    def _carry(self, waters: Collection[str]) -> None:
        """Which tools and baths were in these waters, and where they went."""
        new = set(waters) - set(self._tools)
        if not new or not self._carriers:
            return
        self._tools |= {water: set() for water in new}
        tubs = {tub for water in new for tub in self._tubs[water]}
        edge, forward = self._edge, self._forward
        rows = queries.tool_uses(self._session, tubs, set(self._uses), edge, forward=forward)
        dips = queries.dips(self._session, tubs, set(self._uses), edge, forward=forward)
        self._flow({row.tub_id for row in rows} | {dip.tub_id for dip in dips})
        tools = {row.tool_id for row in rows}
        self._uses |= {tool: [] for tool in tools | {dip.bath_id for dip in dips}}
        self._cleanings |= {tool: [] for tool in self._uses if tool not in self._cleanings}
        for cleaning in queries.cleanings(self._session, tools):
            self._cleanings[cleaning.tool].append(cleaning)
        for row in rows:
            water = water_at(self._spells[row.tub_id], row.at)
            use = Use(row.id, row.tool_id, water, row.tub_id, row.at, row.recorded_at)
            self._uses[row.tool_id].append(use)
        for dip in dips:
            water = water_at(self._spells[dip.tub_id], dip.at)
            self._uses[dip.bath_id].append(
                Use(dip.id, dip.bath_id, water, dip.tub_id, dip.at, dip.at, is_bath=True)
            )
        for tool, uses in self._uses.items():
            for use in uses:
                if use.water in self._tools:
                    self._tools[use.water].add(tool)
