"""Loading what tracing needs: only what lies around the lots just reached, layer by layer."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import datetime
from operator import attrgetter
from typing import Any

from sqlalchemy import ColumnElement, Row, exists, or_, select, tuple_, union_all
from sqlalchemy.orm import Session

from service.core.among import among
from service.lots.models import Lot, Stay
from service.lots.queries import lineages
from service.recalls.rules_facts import NEVER, TICK, Cleaning, Facts, Place, Split, Use
from service.recalls.rules_tracing import Direction, Reached, holder, trace
from service.treatments.models import Bath, Treatment, TreatmentStep
from service.tubs.models import ToolDisinfection, ToolUse
from service.tubs.rules import Disinfection, breaks_contact
from service.tubs.waters import Spell, Waters, water_at, waters_of

Times = Sequence[ColumnElement[bool]]  # of stays; one of them holds
PARTED = (Lot.id, Lot.parent_lot_id, Lot.split_at, Lot.returned_from_id, Lot.away_since)
BAGGED = (Lot.shipment_id, Lot.bag)


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
    """The facts around lots, from the edge of a trace on (back: up to it); each is read once."""

    def __init__(self, session: Session, direction: Direction, edge: datetime) -> None:
        self._session = session
        forward = direction is Direction.FORWARD
        used, dipped = ToolUse.at, TreatmentStep.started_at
        # One after the other, each by an index of its own: an alternative would read all of a tub's history.
        lasting = (Stay.left_at.is_(None), Stay.left_at > edge)
        self._in_time: Times = lasting if forward else (Stay.entered_at <= edge,)
        self._carriers = _carriers(session)
        self._used_in_time = used >= edge if forward else used <= edge
        self._dipped_in_time = dipped >= edge if forward else dipped <= edge
        self._water: dict[str, list[Spell]] = {}  # of a tub, over all time
        self._tubs: dict[str, set[str]] = {}  # of a lot
        self._tools: dict[str, set[str]] = {}  # that were in a water; a bath is one
        self._uses: dict[str, list[Use]] = {}  # of a tool
        self._places: dict[str, list[Place]] = {}  # in a water
        self._stood: set[str] = set()  # tubs whose places are known
        self._cleanings: dict[str, list[Cleaning]] = {}  # of a tool

    def fetch(self, frontier: Mapping[str, datetime]) -> Facts:
        """The facts around these lots."""
        self._follow(set(frontier) - set(self._tubs))
        waters = self._waters_of(frontier)
        tools = {tool for water in waters for tool in self._tools[water]}
        uses = [use for tool in tools for use in self._uses[tool]]
        waters |= {use.water for use in uses}
        places = [place for water in waters for place in self._places[water]]
        own = self._session.execute(select(*PARTED, *BAGGED).where(among(Lot.id, frontier))).all()
        return Facts(
            [*places, *_bags(self._session, {(row.shipment_id, row.bag) for row in own if row.bag})],
            _splits(own, _divided(self._session, frontier)),
            uses,
            [cleaning for tool in tools for cleaning in self._cleanings[tool]],
        )

    def _follow(self, lots: Collection[str]) -> None:
        if not lots:
            return
        wanted = select(Stay.lot_id, Stay.tub_id).where(among(Stay.lot_id, lots), or_(*self._in_time))
        self._tubs |= {lot: set() for lot in lots}
        for row in self._session.execute(wanted).all():
            self._tubs[row.lot_id].add(row.tub_id)
        self._flow({tub for lot in lots for tub in self._tubs[lot]})
        waters = self._waters_of(lots) - set(self._tools)
        if waters:
            self._carry(waters)
        self._stand()

    def _waters_of(self, lots: Collection[str]) -> set[str]:
        return {spell.water for lot in lots for tub in self._tubs[lot] for spell in self._water[tub]}

    def _flow(self, tubs: Collection[str]) -> None:
        new = set(tubs) - set(self._water)
        if new:
            self._water |= waters_of(self._session, new)

    def _carry(self, waters: Collection[str]) -> None:
        tubs = [tub for tub, spells in self._water.items() if any(spell.water in waters for spell in spells)]
        self._tools |= {water: set() for water in waters}
        if not self._carriers:
            return
        touched = select(ToolUse.tool_id).where(ToolUse.tub_id.in_(tubs), self._used_in_time)
        tools = set(self._session.scalars(touched)) - set(self._uses)
        rows = self._session.scalars(
            select(ToolUse).where(ToolUse.tool_id.in_(tools), self._used_in_time)
        ).all()
        dips = _dips(self._session, tubs, set(self._uses), self._dipped_in_time)
        self._flow({row.tub_id for row in rows} | {dip.tub_id for dip in dips})
        cleanings = _cleanings(self._session, tools)
        for tool in tools | {dip.bath_id for dip in dips if dip.bath_id}:
            self._uses[tool] = []
            self._cleanings[tool] = [cleaning for cleaning in cleanings if cleaning.tool == tool]
        for row in rows:
            water = water_at(self._water[row.tub_id], row.at)
            use = Use(row.id, row.tool_id, water, row.tub_id, row.at, row.recorded_at)
            self._uses[row.tool_id].append(use)
        for dip in dips:
            water = water_at(self._water[dip.tub_id], dip.at)
            use = Use(dip.id, dip.bath_id, water, dip.tub_id, dip.at, dip.at, is_bath=True)
            self._uses[dip.bath_id].append(use)
        for tool, uses in self._uses.items():
            for use in uses:
                if use.water in self._tools:
                    self._tools[use.water].add(tool)

    def _stand(self) -> None:
        new = {tub: spells for tub, spells in self._water.items() if tub not in self._stood}
        if new:
            self._stood |= set(new)
            for spells in new.values():
                self._places |= {spell.water: [] for spell in spells if spell.water not in self._places}
            for place in _places(self._session, new, self._in_time):
                self._places[place.water].append(place)


def _carriers(session: Session) -> bool:
    """Whether the house knows of tools or baths that were in a water at all."""
    return bool(session.scalar(select(or_(exists(select(ToolUse.id)), exists(select(Bath.id))))))


def _places(session: Session, waters: Waters, in_time: Times) -> Iterator[Place]:
    stays = select(Stay.id, Stay.lot_id, Stay.tub_id, Stay.entered_at, Stay.left_at, Lot.split_at)
    there = stays.join(Lot, Lot.id == Stay.lot_id).where(among(Stay.tub_id, waters))
    rows = session.execute(union_all(*(there.where(time) for time in in_time))).all()
    for row in sorted(rows, key=attrgetter("entered_at", "id")):
        # A lot that was split off has its parent's stays; until then it was in them as a part of the parent.
        since, until = max(row.entered_at, row.split_at or row.entered_at), row.left_at or NEVER
        for spell in waters[row.tub_id]:
            entered, left = max(since, spell.since), min(until, spell.until)
            if entered < left:
                yield Place(row.lot_id, spell.water, row.tub_id, entered, left)


def _bags(session: Session, keys: Collection[tuple[str, str]]) -> list[Place]:
    if not keys:
        return []
    rows = session.execute(
        select(Lot.id, Lot.shipment_id, Lot.bag, Lot.received_at).where(
            tuple_(Lot.shipment_id, Lot.bag).in_(keys), Lot.parent_lot_id.is_(None)
        )
    ).all()
    return [
        # Received at one moment: they were in one water up to it, that moment included.
        Place(row.id, f"{row.shipment_id}/{row.bag}", None, row.received_at, row.received_at + TICK)
        for row in rows
    ]


def _divided(session: Session, lot_ids: Collection[str]) -> Sequence[Any]:
    parts = select(*PARTED).where(among(Lot.parent_lot_id, lot_ids))
    back = select(*PARTED).where(among(Lot.returned_from_id, lot_ids), Lot.parent_lot_id.is_(None))
    return session.execute(union_all(parts, back)).all()


def _splits(*found: Sequence[Any]) -> list[Split]:
    lots = sorted({row.id: row for rows in found for row in rows}.items())
    splits = [Split(row.parent_lot_id, id_, row.split_at) for id_, row in lots if row.parent_lot_id]
    # What a customer sends back left its lot with the dispatch, as a part that is split off does.
    back = [row for _, row in lots if row.returned_from_id and not row.parent_lot_id]
    return splits + [Split(row.returned_from_id, row.id, row.away_since) for row in back]


def _cleanings(session: Session, tool_ids: Collection[str]) -> list[Cleaning]:
    if not tool_ids:
        return []
    rows = session.scalars(select(ToolDisinfection).where(ToolDisinfection.tool_id.in_(tool_ids))).all()
    return [
        Cleaning(row.tool_id, row.at, row.recorded_at)
        for row in rows
        if breaks_contact(Disinfection(row.method), row.celsius, row.minutes)
    ]


def _dips(
    session: Session, tubs: Collection[str], known: Collection[str], in_time: ColumnElement[bool]
) -> Sequence[Row[str, str | None, str, datetime | None]]:
    steps = select(TreatmentStep).join(Treatment, Treatment.id == TreatmentStep.treatment_id)
    baths = steps.with_only_columns(TreatmentStep.bath_id).where(
        TreatmentStep.bath_id.is_not(None), Treatment.tub_id.in_(tubs), in_time
    )
    new = set(session.scalars(baths)) - set(known)
    at = TreatmentStep.started_at
    columns = (Treatment.id, TreatmentStep.bath_id, Treatment.tub_id, at.label("at"))
    wanted = steps.with_only_columns(*columns).where(TreatmentStep.bath_id.in_(new), in_time)
    return session.execute(wanted.order_by(at, Treatment.id)).all()
