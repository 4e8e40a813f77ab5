"""Loading what tracing needs: only what lies around the lots just reached, layer by layer."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime

from sqlalchemy import ColumnElement, Row, or_, select, tuple_
from sqlalchemy.orm import Session

from service.lots.models import Lot, Stay
from service.lots.queries import lineages
from service.recalls.rules_facts import NEVER, TICK, Cleaning, Facts, Place, Split, Use
from service.recalls.rules_tracing import Direction, Fetch, Reached, holder, trace
from service.treatments.models import Treatment, TreatmentStep
from service.tubs.models import ToolDisinfection, ToolUse, Tub
from service.tubs.rules import Disinfection, breaks_contact


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
    return trace(begun, fetch_from(session, direction), direction)


def fetch_from(session: Session, direction: Direction) -> Fetch:
    """What gives the facts around lots, as far as they matter from their moments on (back: up to them)."""

    def fetch(frontier: Mapping[str, datetime]) -> Facts:
        edge = min(frontier.values()) if direction is Direction.FORWARD else max(frontier.values())
        forward = direction is Direction.FORWARD
        in_time = or_(Stay.left_at.is_(None), Stay.left_at > edge) if forward else Stay.entered_at <= edge
        used_in_time = ToolUse.at >= edge if forward else ToolUse.at <= edge
        wanted = select(Stay.tub_id).where(Stay.lot_id.in_(frontier), in_time)
        waters = _waters(session, session.scalars(wanted))
        tools = set(session.scalars(select(ToolUse.tool_id).where(ToolUse.tub_id.in_(waters), used_in_time)))
        used = session.scalars(select(ToolUse).where(ToolUse.tool_id.in_(tools), used_in_time)).all()
        dips = _dips(session, waters, edge, direction)
        away = {use.tub_id for use in used} | {dip.tub_id for dip in dips}
        waters |= _waters(session, away - set(waters))
        return Facts(
            [*_places(session, waters, in_time), *_bags(session, frontier)],
            _splits(session, frontier),
            [
                *(
                    Use(use.id, use.tool_id, waters[use.tub_id], use.tub_id, use.at, use.recorded_at)
                    for use in used
                ),
                *(
                    Use(dip.id, dip.bath_id, waters[dip.tub_id], dip.tub_id, dip.at, dip.at, is_bath=True)
                    for dip in dips
                ),
            ],
            _cleanings(session, tools),
        )

    return fetch


def _waters(session: Session, tub_ids: Iterable[str]) -> dict[str, str]:
    ids = set(tub_ids)
    systems = select(Tub.water_system_id).where(Tub.id.in_(ids), Tub.water_system_id.is_not(None))
    wanted = or_(Tub.id.in_(ids), Tub.water_system_id.in_(systems))
    rows = session.execute(select(Tub.id, Tub.water_system_id).where(wanted)).all()
    return {row.id: row.water_system_id or row.id for row in rows}


def _places(session: Session, waters: Mapping[str, str], in_time: ColumnElement[bool]) -> list[Place]:
    rows = session.execute(
        select(Stay.lot_id, Stay.tub_id, Stay.entered_at, Stay.left_at, Lot.split_at)
        .join(Lot, Lot.id == Stay.lot_id)
        .where(Stay.tub_id.in_(waters), in_time)
        .order_by(Stay.entered_at, Stay.id)
    ).all()
    # A lot that was split off has its parent's stays; until then it was in them as a part of the parent.
    return [
        Place(
            row.lot_id,
            waters[row.tub_id],
            row.tub_id,
            max(row.entered_at, row.split_at or row.entered_at),
            row.left_at or NEVER,
        )
        for row in rows
    ]


def _bags(session: Session, lot_ids: Collection[str]) -> list[Place]:
    bags = session.execute(
        select(Lot.shipment_id, Lot.bag).where(Lot.id.in_(lot_ids), Lot.bag.is_not(None)).distinct()
    ).all()
    keys = [(row.shipment_id, row.bag) for row in bags]
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


def _splits(session: Session, lot_ids: Collection[str]) -> list[Split]:
    rows = session.execute(
        select(Lot.id, Lot.parent_lot_id, Lot.split_at)
        .where(or_(Lot.parent_lot_id.in_(lot_ids), Lot.id.in_(lot_ids)), Lot.parent_lot_id.is_not(None))
        .order_by(Lot.id)
    ).all()
    return [Split(row.parent_lot_id, row.id, row.split_at) for row in rows]


def _cleanings(session: Session, tool_ids: Collection[str]) -> list[Cleaning]:
    rows = session.scalars(select(ToolDisinfection).where(ToolDisinfection.tool_id.in_(tool_ids))).all()
    return [
        Cleaning(row.tool_id, row.at, row.recorded_at)
        for row in rows
        if breaks_contact(Disinfection(row.method), row.celsius, row.minutes)
    ]


def _dips(
    session: Session, waters: Collection[str], edge: datetime, direction: Direction
) -> Sequence[Row[str, str | None, str, datetime | None]]:
    at = TreatmentStep.started_at
    in_time = at >= edge if direction is Direction.FORWARD else at <= edge
    steps = select(TreatmentStep).join(Treatment, Treatment.id == TreatmentStep.treatment_id)
    baths = steps.with_only_columns(TreatmentStep.bath_id).where(
        TreatmentStep.bath_id.is_not(None), Treatment.tub_id.in_(waters), in_time
    )
    wanted = steps.with_only_columns(
        Treatment.id, TreatmentStep.bath_id, Treatment.tub_id, at.label("at")
    ).where(TreatmentStep.bath_id.in_(session.scalars(baths).all()), in_time)
    return session.execute(wanted.order_by(at, Treatment.id)).all()
