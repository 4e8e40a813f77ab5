"""Reading lots: rows for changes, and the water they stand in, stood in and share."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any, TypeVar

from sqlalchemy import ColumnElement, Select, and_, exists, func, not_, or_, select
from sqlalchemy.orm import InstrumentedAttribute, Session, aliased

from service.core.errors import NotFound
from service.lots.models import Contact, Hold, Lot, Stay
from service.lots.rules import ENDED, State
from service.lots.shapes import lot_rows, lot_shape
from service.tubs.models import Tub

OfLot = TypeVar("OfLot", Stay, Contact)
Column = InstrumentedAttribute[datetime] | InstrumentedAttribute[datetime | None] | ColumnElement[datetime]


def lot_by_id(session: Session, lot_id: str, *, lock: bool = False) -> Lot:
    """One lot, as it is now when locked; raises NotFound."""
    found = session.get(Lot, lot_id, with_for_update=lock or None, populate_existing=lock)
    if found is None:
        raise NotFound("lot")
    return found


def lot_view(session: Session, lot_id: str) -> dict[str, Any]:
    """One lot as answered; raises NotFound."""
    row = session.execute(lot_rows().where(Lot.id == lot_id)).one_or_none()
    if row is None:
        raise NotFound("lot")
    return lot_shape(row)


def lots(asked: Mapping[str, Any], now: datetime) -> Select[Any]:
    """The lots that fit the query (`schemas.LotQuery`), in the columns of `shapes.listed_lot`."""
    found = lot_rows()
    for name, column in (("plant", Lot.plant_id), ("supplier", Lot.supplier_id), ("tub", Lot.tub_id)):
        if asked[name] is not None:
            found = found.where(column == asked[name])
    if asked["state"] is not None:
        found = found.where(Lot.state == asked["state"])
    if asked["received_from"] is not None:
        found = found.where(Lot.received_at >= asked["received_from"])
    if asked["received_to"] is not None:
        found = found.where(Lot.received_at < asked["received_to"])
    if asked["ready"] is not None:
        found = found.where(ready(now) if asked["ready"] else not_(ready(now)))
    return found


def ready(now: datetime) -> ColumnElement[bool]:
    """Ready to sell: `for_sale`, and something left that nobody was promised."""
    return and_(for_sale(now), Lot.left > Lot.reserved)


def for_sale(now: datetime) -> ColumnElement[bool]:
    """Cleared, still good (its certificate and its last look are not too old), no open hold."""
    held = exists().where(Hold.lot_id == Lot.id, Hold.lifted_at.is_(None))
    good = and_(Lot.good_until.is_not(None), Lot.good_until > now)
    return and_(Lot.state == State.CLEARED.value, good, not_(held))


def open_holds(session: Session, lot_id: str) -> list[Hold]:
    """The holds on a lot that nobody has lifted, oldest first."""
    return list(
        session.scalars(
            select(Hold).where(Hold.lot_id == lot_id, Hold.lifted_at.is_(None)).order_by(Hold.since, Hold.id)
        )
    )


def hold_causes(session: Session, lot_id: str) -> list[str]:
    """The causes of the open holds on a lot, for `rules.stop_reasons`."""
    return [hold.cause for hold in open_holds(session, lot_id)]


def hold_by_id(session: Session, lot_id: str, hold_id: str) -> Hold:
    """One hold of a lot; raises NotFound."""
    found = session.get(Hold, hold_id)
    if found is None or found.lot_id != lot_id:
        raise NotFound("hold")
    return found


def stays_of(session: Session, lot_ids: Collection[str]) -> dict[str, list[Stay]]:
    """The stays of each lot in order; every asked lot has its list."""
    rows = session.scalars(select(Stay).where(Stay.lot_id.in_(lot_ids)).order_by(Stay.entered_at, Stay.id))
    return _by_lot(lot_ids, rows)


def contacts_of(session: Session, lot_ids: Collection[str]) -> dict[str, list[Contact]]:
    """The contacts of each lot with other water in order; every asked lot has its list."""
    rows = session.scalars(
        select(Contact).where(Contact.lot_id.in_(lot_ids)).order_by(Contact.at, Contact.id)
    )
    return _by_lot(lot_ids, rows)


def lots_in_tub(session: Session, tub_id: str) -> list[Lot]:
    """The lots now in one tub, by id."""
    return list(session.scalars(select(Lot).where(Lot.tub_id == tub_id).order_by(Lot.id)))


def water_of(session: Session, tub_ids: Iterable[str]) -> set[str]:
    """The ids of every tub whose water is one with these tubs (themselves and their water systems)."""
    asked = set(tub_ids)
    systems = select(Tub.water_system_id).where(Tub.id.in_(asked), Tub.water_system_id.is_not(None))
    return asked | set(session.scalars(select(Tub.id).where(Tub.water_system_id.in_(systems))))


def water_group(session: Session, tub_ids: Iterable[str]) -> list[Lot]:
    """All lots now in the same water as these tubs, by id."""
    water = water_of(session, tub_ids)
    return list(session.scalars(select(Lot).where(Lot.tub_id.in_(water)).order_by(Lot.id)))


def group_ids(
    session: Session, lot_ids: Collection[str], tub_ids: Iterable[str], since: datetime | None
) -> set[str]:
    """Ids of these lots and of all in their water or that of these tubs, now or at any time after `since`."""
    places = {id_ for id_ in session.scalars(select(Lot.tub_id).where(Lot.id.in_(lot_ids))) if id_}
    water = water_of(session, places | set(tub_ids))
    found = set(lot_ids) | set(session.scalars(select(Lot.id).where(Lot.tub_id.in_(water))))
    if since is not None:
        found |= {lot.id for lot, _ in sharers(session, water, since)}
    return found


def sharers(session: Session, water: Collection[str], at: datetime) -> list[tuple[Lot, datetime]]:
    """Each living lot that is in this water, or was after `at`, with the moment it entered."""
    rows = session.execute(
        select(Lot, func.max(Stay.entered_at, type_=Stay.entered_at.type))
        .join(Stay, Stay.lot_id == Lot.id)
        .where(Stay.tub_id.in_(water), or_(Stay.left_at.is_(None), Stay.left_at > at))
        .where(Lot.state.not_in([state.value for state in ENDED]))
        .group_by(Lot.id)
        .order_by(Lot.id)
    ).all()
    return [(row[0], row[1]) for row in rows]


def lineages(session: Session, lot_ids: Collection[str]) -> dict[str, list[tuple[str, datetime]]]:
    """For each lot its ancestors with the moment at which it (or its forebear) was split from them."""
    chains: dict[str, list[tuple[str, datetime]]] = {lot_id: [] for lot_id in lot_ids}
    ends = {lot_id: lot_id for lot_id in lot_ids}
    while ends:
        rows = session.execute(
            select(Lot.id, Lot.parent_lot_id, Lot.split_at).where(
                Lot.id.in_(set(ends.values())), Lot.parent_lot_id.is_not(None)
            )
        ).all()
        parents = {row.id: (row.parent_lot_id, row.split_at) for row in rows}
        ends = {lot_id: end for lot_id, end in ends.items() if end in parents}
        for lot_id, end in ends.items():
            chains[lot_id].append(parents[end])
            ends[lot_id] = parents[end][0]
    return chains


def lineage(session: Session, lot_id: str) -> list[tuple[str, datetime]]:
    """The ancestors of a lot, nearest first, with the moment until which their looks are its looks."""
    return lineages(session, [lot_id])[lot_id]


def split_off_since(session: Session, lot_ids: Collection[str], at: datetime) -> set[str]:
    """The ids of the lots split off these, or off such a part, at or after a moment."""
    found, parents = set[str](), set(lot_ids)
    while parents:
        wanted = select(Lot.id).where(Lot.parent_lot_id.in_(parents), Lot.split_at >= at)
        parents = set(session.scalars(wanted)) - found
        found |= parents
    return found


def reach_since_clock(session: Session, lots: Sequence[Lot], at: datetime) -> list[Lot]:
    """Other living lots that shared water with `lots` up to `at` and since their own clock start.

    Shared is water of one tub or water system at the same time, or water that a tool carried from
    there to them. A lot without a clock counts from its receipt.
    """
    ids = [lot.id for lot in lots]
    clock = func.coalesce(Lot.clock_started_at, Lot.received_at)
    found = select(Lot).where(Lot.id.not_in(ids), Lot.state.not_in([state.value for state in ENDED]))
    found = found.where(clock <= at, or_(Lot.id.in_(_overlapping(ids, at)), Lot.id.in_(_touched(ids, at))))
    return list(session.scalars(found.order_by(Lot.id)))


def _overlapping(ids: Sequence[str], at: datetime) -> Select[str]:
    ours, theirs, lot = aliased(Stay), aliased(Stay), aliased(Lot)
    here, there = aliased(Tub), aliased(Tub)
    clock = func.coalesce(lot.clock_started_at, lot.received_at)
    return (
        select(theirs.lot_id)
        .join(lot, lot.id == theirs.lot_id)
        .join(there, there.id == theirs.tub_id)
        .join(here, _one_water(here, there))
        .join(ours, ours.tub_id == here.id)
        .where(ours.lot_id.in_(ids), ours.entered_at <= at, theirs.entered_at <= at)
        .where(_lasts(ours.left_at, theirs.entered_at), _lasts(theirs.left_at, ours.entered_at))
        .where(_lasts(ours.left_at, clock), _lasts(theirs.left_at, clock))
    )


def _touched(ids: Sequence[str], at: datetime) -> Select[str]:
    ours, lot = aliased(Stay), aliased(Lot)
    here, there = aliased(Tub), aliased(Tub)
    return (
        select(Contact.lot_id)
        .join(lot, lot.id == Contact.lot_id)
        .join(there, there.id == Contact.tub_id)
        .join(here, _one_water(here, there))
        .join(ours, ours.tub_id == here.id)
        .where(Contact.touched_at.is_not(None), Contact.at <= at, ours.lot_id.in_(ids))
        .where(Contact.at >= func.coalesce(lot.clock_started_at, lot.received_at))
        .where(ours.entered_at <= Contact.touched_at, _lasts(ours.left_at, Contact.touched_at))
    )


def _one_water(here: type[Tub], there: type[Tub]) -> ColumnElement[bool]:
    system = and_(here.water_system_id.is_not(None), here.water_system_id == there.water_system_id)
    return or_(here.id == there.id, system)


def _lasts(left_at: Column, moment: Column) -> ColumnElement[bool]:
    return or_(left_at.is_(None), left_at > moment)


def _by_lot(lot_ids: Collection[str], rows: Iterable[OfLot]) -> dict[str, list[OfLot]]:
    found: dict[str, list[OfLot]] = defaultdict(list)
    for row in rows:
        found[row.lot_id].append(row)
    return {lot_id: found[lot_id] for lot_id in lot_ids}
