"""What tracing asks the database: stays, splits, bags, and where tools and baths went."""

from collections.abc import Collection, Iterator, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy import Executable, bindparam, exists, or_, select, tuple_, union_all
from sqlalchemy.orm import Session

from service.core.among import among_bound, listed
from service.lots.models import Lot, Stay
from service.recalls.rules_facts import NEVER, TICK, Cleaning, Place, Split
from service.recalls.rules_windows import Window
from service.treatments.models import Bath, Treatment, TreatmentStep
from service.tubs.models import ToolDisinfection, ToolUse
from service.tubs.rules import Disinfection, breaks_contact

_PARTED = (Lot.id, Lot.parent_lot_id, Lot.split_at, Lot.returned_from_id, Lot.away_since)
_BAGGED = (Lot.shipment_id, Lot.bag)
_STAY: tuple[Any, ...] = (Stay.id.label("stay_id"), Stay.tub_id, Stay.entered_at, Stay.left_at)
_STAYS = select(*_STAY, *_PARTED, *_BAGGED).join(Lot, Lot.id == Stay.lot_id)
# Built once: a trace asks them in every layer. Stays that last and those that ended are asked for one after
# the other, each by an index of its own: an alternative would read all of a tub's history.
_LOTS = select(*_PARTED, *_BAGGED).where(among_bound(Lot.id, "ids"))
_OWN = _STAYS.where(among_bound(Stay.lot_id, "ids"))
_OWN_LATER = _OWN.where(or_(Stay.left_at.is_(None), Stay.left_at > bindparam("edge")))
_OWN_EARLIER = _OWN.where(Stay.entered_at <= bindparam("edge"))
_IN_TUBS = _STAYS.where(among_bound(Stay.tub_id, "ids"), Stay.entered_at < bindparam("until"))
_IN_WINDOW = union_all(
    _IN_TUBS.where(Stay.left_at.is_(None)), _IN_TUBS.where(Stay.left_at > bindparam("since"))
)
_DIVIDED = union_all(
    select(*_PARTED).where(among_bound(Lot.parent_lot_id, "ids")),
    select(*_PARTED).where(among_bound(Lot.returned_from_id, "ids"), Lot.parent_lot_id.is_(None)),
)


class Own(NamedTuple):
    """A lot stood in a tub from..to, as itself: until it was split off it was a part of its parent."""

    id: str
    lot: str
    tub: str
    since: datetime
    until: datetime


def carriers(session: Session) -> bool:
    """Whether the house knows of tools or baths that were in a water at all."""
    return bool(session.scalar(select(or_(exists(select(ToolUse.id)), exists(select(Bath.id))))))


def parted(session: Session, lot_ids: Collection[str]) -> Sequence[Any]:
    """What these lots were parted from, and in which bag they came."""
    return _asked(session, _LOTS, lot_ids)


def own_stays(session: Session, lot_ids: Collection[str], edge: datetime, *, forward: bool) -> Iterator[Own]:
    """The stays of these lots that ended after the edge, or (back) began up to it."""
    for row in _asked(session, _OWN_LATER if forward else _OWN_EARLIER, lot_ids, edge=edge):
        yield from _as_itself(row)


def stays_in(session: Session, tub_ids: Collection[str], window: Window) -> Iterator[tuple[Any, Own]]:
    """Who stood in these tubs at some moment of the window: what `parted` tells of the lot, and its stay."""
    since, until = window
    for row in _asked(session, _IN_WINDOW, tub_ids, since=since, until=until):
        for stay in _as_itself(row):
            yield row, stay


def _asked(session: Session, statement: Executable, ids: Collection[str], **bound: datetime) -> Sequence[Any]:
    return session.connection().execute(statement, {"ids": listed(ids), **bound}).all() if ids else []


def _as_itself(row: Any) -> Iterator[Own]:
    since, until = max(row.entered_at, row.split_at or row.entered_at), row.left_at or NEVER
    if since < until:
        yield Own(row.stay_id, row.id, row.tub_id, since, until)


def bags(session: Session, lots: Collection[Any]) -> list[Place]:
    """Who came in one bag with these lots (rows of `parted`)."""
    keys = {(row.shipment_id, row.bag) for row in lots if row.bag}
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


def divided(session: Session, lot_ids: Collection[str]) -> Sequence[Any]:
    """The parts that these lots were divided into, and what came back of them."""
    return _asked(session, _DIVIDED, lot_ids)


def splits(*found: Sequence[Any]) -> list[Split]:
    """Every parting that rows of `parted` and `divided` tell of, once."""
    lots = sorted({row.id: row for rows in found for row in rows}.items())
    splits = [Split(row.parent_lot_id, id_, row.split_at) for id_, row in lots if row.parent_lot_id]
    # What a customer sends back left its lot with the dispatch, as a part that is split off does.
    back = [row for _, row in lots if row.returned_from_id and not row.parent_lot_id]
    return splits + [Split(row.returned_from_id, row.id, row.away_since) for row in back]


def cleanings(session: Session, tool_ids: Collection[str]) -> list[Cleaning]:
    """The disinfections of these tools that break a contact."""
    if not tool_ids:
        return []
    rows = session.scalars(select(ToolDisinfection).where(ToolDisinfection.tool_id.in_(tool_ids))).all()
    return [
        Cleaning(row.tool_id, row.at, row.recorded_at)
        for row in rows
        if breaks_contact(Disinfection(row.method), row.celsius, row.minutes)
    ]


def tool_uses(
    session: Session, tub_ids: Collection[str], known: Collection[str], edge: datetime, *, forward: bool
) -> Sequence[ToolUse]:
    """All uses from the edge on (back: up to it) of the tools that were in these tubs, but of known ones."""
    in_time = ToolUse.at >= edge if forward else ToolUse.at <= edge
    touched = select(ToolUse.tool_id).where(ToolUse.tub_id.in_(tub_ids), in_time)
    tools = set(session.scalars(touched)) - set(known)
    return session.scalars(select(ToolUse).where(ToolUse.tool_id.in_(tools), in_time)).all() if tools else []


def dips(
    session: Session, tub_ids: Collection[str], known: Collection[str], edge: datetime, *, forward: bool
) -> Sequence[Any]:
    """All dips from the edge on (back: up to it) into the baths that lots of these tubs were dipped into."""
    at = TreatmentStep.started_at
    in_time = at >= edge if forward else at <= edge
    steps = select(TreatmentStep).join(Treatment, Treatment.id == TreatmentStep.treatment_id)
    baths = steps.with_only_columns(TreatmentStep.bath_id).where(
        TreatmentStep.bath_id.is_not(None), Treatment.tub_id.in_(tub_ids), in_time
    )
    new = set(session.scalars(baths)) - set(known)
    if not new:
        return []
    columns = (Treatment.id, TreatmentStep.bath_id, Treatment.tub_id, at.label("at"))
    wanted = steps.with_only_columns(*columns).where(TreatmentStep.bath_id.in_(new), in_time)
    return session.execute(wanted.order_by(at, Treatment.id)).all()
