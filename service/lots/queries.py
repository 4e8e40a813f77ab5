"""Reading lots: rows for changes, where they stood, and the water they stand in now."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import datetime
from typing import Any, TypeVar

from sqlalchemy import BindParameter, ColumnElement, Connection, and_, bindparam, exists, not_, select
from sqlalchemy.orm import Session
from sqlalchemy.orm.util import identity_key

from service.core.among import among
from service.core.errors import NotFound
from service.core.rows import Listing
from service.lots.models import Contact, Hold, Lot, Stay
from service.lots.rules import State
from service.lots.shapes import ALONE, LISTED
from service.tubs.models import Tub

Moment = datetime | BindParameter[datetime]
ONE = ALONE.statement.where(Lot.id == bindparam("lot"))
TAG = select(Lot.id, Lot.version).where(Lot.id == bindparam("lot"))
OfLot = TypeVar("OfLot", Stay, Contact)


def lot_by_id(session: Session, lot_id: str, *, lock: bool = False) -> Lot:
    """One lot, as it is now when locked; raises NotFound."""
    found = session.get(Lot, lot_id, with_for_update=lock or None, populate_existing=lock)
    if found is None:
        raise NotFound("lot")
    return found


def lot_view(session: Session, lot_id: str) -> dict[str, Any]:
    """One lot as answered; raises NotFound."""
    session.flush()  # an act answers with the lot as it has left it
    return lot_read(session.connection(), lot_id)


def lot_read(connection: Connection, lot_id: str) -> dict[str, Any]:
    """One lot as answered, as the database has it; raises NotFound."""
    found = ALONE.write(connection.execute(ONE, {"lot": lot_id}))
    if not found:
        raise NotFound("lot")
    return found[0]


def lot_tag(connection: Connection, lot_id: str) -> tuple[str, int]:
    """The id and the version of a lot, for its ETag; raises NotFound."""
    found = connection.execute(TAG, {"lot": lot_id}).one_or_none()
    if found is None:
        raise NotFound("lot")
    return found[0], found[1]


def ready(now: Moment) -> ColumnElement[bool]:
    """Ready to sell: `for_sale`, and something left that nobody was promised."""
    return and_(for_sale(now), Lot.left > Lot.reserved)


def for_sale(now: Moment) -> ColumnElement[bool]:
    """Cleared, still good (its certificate and its last look are not too old), no open hold."""
    held = exists().where(Hold.lot_id == Lot.id, Hold.lifted_at.is_(None))
    good = and_(Lot.good_until.is_not(None), Lot.good_until > now)
    return and_(Lot.state == State.CLEARED.value, good, not_(held))


# Oldest receipt first; which of them: `schemas.LotQuery`, with the present moment as `now`.
LOTS = Listing(
    LISTED,
    ("received_at", "id"),
    {
        "plant": Lot.plant_id == bindparam("plant"),
        "supplier": Lot.supplier_id == bindparam("supplier"),
        "tub": Lot.tub_id == bindparam("tub"),
        "state": Lot.state == bindparam("state"),
        "received_from": Lot.received_at >= bindparam("received_from"),
        "received_to": Lot.received_at < bindparam("received_to"),
        "ready": ready(bindparam("now")),
        "not_ready": not_(ready(bindparam("now"))),
    },
)


def lots_asked(asked: Mapping[str, Any], now: datetime) -> dict[str, Any]:
    """What the filters of `LOTS` bind for a query."""
    is_ready = asked["ready"]
    return {**asked, "ready": is_ready or None, "not_ready": is_ready is False or None, "now": now}


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
    if not lot_ids:
        return {}
    rows = session.scalars(select(Stay).where(among(Stay.lot_id, lot_ids)).order_by(Stay.entered_at, Stay.id))
    return _by_lot(lot_ids, rows)


def contacts_of(session: Session, lot_ids: Collection[str]) -> dict[str, list[Contact]]:
    """The contacts of each lot with other water in order; every asked lot has its list."""
    if not lot_ids:
        return {}
    rows = session.scalars(
        select(Contact).where(among(Contact.lot_id, lot_ids)).order_by(Contact.at, Contact.id)
    )
    return _by_lot(lot_ids, rows)


def lots_in_tub(session: Session, tub_id: str) -> list[Lot]:
    """The lots now in one tub, by id."""
    return list(session.scalars(select(Lot).where(Lot.tub_id == tub_id).order_by(Lot.id)))


def water_of(session: Session, tub_ids: Iterable[str]) -> set[str]:
    """The ids of every tub whose water is one with these tubs (themselves and their water systems)."""
    asked = set(tub_ids)
    if not asked:
        return asked
    systems = select(Tub.water_system_id).where(Tub.id.in_(asked), Tub.water_system_id.is_not(None))
    return asked | set(session.scalars(select(Tub.id).where(Tub.water_system_id.in_(systems))))


def water_group(session: Session, tub_ids: Iterable[str]) -> list[Lot]:
    """All lots now in the same water as these tubs, by id."""
    water = water_of(session, tub_ids)
    return list(session.scalars(select(Lot).where(Lot.tub_id.in_(water)).order_by(Lot.id)))


def lineages(session: Session, lot_ids: Collection[str]) -> dict[str, list[tuple[str, datetime]]]:
    """For each lot its ancestors with the moment at which it (or its forebear) was split from them."""
    chains: dict[str, list[tuple[str, datetime]]] = {lot_id: [] for lot_id in lot_ids}
    ends = {lot_id: lot_id for lot_id in lot_ids if not _came_whole(session, lot_id)}
    while ends:
        rows = session.execute(
            select(Lot.id, Lot.parent_lot_id, Lot.split_at).where(
                among(Lot.id, set(ends.values())), Lot.parent_lot_id.is_not(None)
            )
        ).all()
        parents = {row.id: (row.parent_lot_id, row.split_at) for row in rows}
        ends = {lot_id: end for lot_id, end in ends.items() if end in parents}
        for lot_id, end in ends.items():
            chains[lot_id].append(parents[end])
            ends[lot_id] = parents[end][0]
    return chains


def _came_whole(session: Session, lot_id: str) -> bool:
    # What a lot was split from never changes: if the session has read it, nothing is asked.
    known = session.identity_map.get(identity_key(Lot, lot_id))
    return known is not None and known.__dict__.get("parent_lot_id", lot_id) is None


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


def _by_lot(lot_ids: Collection[str], rows: Iterable[OfLot]) -> dict[str, list[OfLot]]:
    found: dict[str, list[OfLot]] = defaultdict(list)
    for row in rows:
        found[row.lot_id].append(row)
    return {lot_id: found[lot_id] for lot_id in lot_ids}
