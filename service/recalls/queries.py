"""Reading what is within reach, as answered."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import datetime
from typing import Any

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from service.core.errors import Invalid
from service.lots.models import Lot, Stay
from service.recalls.customers import Served, served
from service.recalls.reach import reach
from service.recalls.rules_facts import NEVER
from service.recalls.rules_tracing import Direction, Hop, Reached, Way, path
from service.recalls.rules_words import sentence
from service.tubs.models import Tool, Tub


def traced(
    session: Session, lot: Lot, direction: Direction, at: datetime | None, now: datetime, *, names: bool
) -> dict[str, Any]:
    """What is within reach of a lot, from its receipt on (back: up to now) unless a moment is said.

    Customers are listed forward only; who they are only with `names`. Raises Invalid for a future moment.
    """
    forward = direction is Direction.FORWARD
    moment = at or (lot.received_at if forward else now)
    if moment > now:
        raise Invalid.at("#/at", "This lies in the future.", code="in-the-future")
    found = reach(session, {lot.id: moment}, direction)
    sent = served(session, {lot_id: reached.at for lot_id, reached in found.items()}) if forward else []
    return {
        "lot_id": lot.id,
        "direction": direction.value,
        "at": moment,
        "lots": reached_views(session, found, direction),
        "tubs": _tubs(session, found, direction),
        "customers": [served_view(line, names=names) for line in sent],
    }


def reached_views(
    session: Session, found: Mapping[str, Reached], direction: Direction
) -> list[dict[str, Any]]:
    """Reached lots as answered, with the way that explains each, in the order they were reached."""
    paths = {lot_id: path(lot_id, found, direction) for lot_id in found}
    names = names_of(session, found, [hop for hops in paths.values() for hop in hops])
    states = {
        row.id: row
        for row in session.execute(select(Lot.id, Lot.state, Lot.left).where(Lot.id.in_(found))).all()
    }
    return [
        {
            "id": reached.lot,
            "code": names[reached.lot],
            "state": states[reached.lot].state,
            "left": states[reached.lot].left,
            "at": reached.at,
            "path": [hop_view(hop, names) for hop in paths[reached.lot]],
        }
        for reached in _ordered(found.values(), direction)
    ]


def hop_view(hop: Hop, names: Mapping[str, str]) -> dict[str, Any]:
    """One step of a way as answered."""
    return {
        "way": hop.way.value,
        "from_lot_id": hop.source,
        "to_lot_id": hop.target,
        "from_tub_id": hop.source_tub,
        "to_tub_id": hop.target_tub,
        "tool_id": hop.tool if hop.way is Way.TOOL else None,
        "bath_id": hop.tool if hop.way is Way.BATH else None,
        "since": hop.since,
        "until": None if hop.until == NEVER else hop.until,
        "words": sentence(hop, names),
    }


def served_view(line: Served, *, names: bool) -> dict[str, Any]:
    """What a customer got; without `names` not who it was."""
    shown = asdict(line)
    return shown if names else {**shown, "order_ref": None, "customer_ref": None}


def names_of(session: Session, lot_ids: Collection[str], hops: Iterable[Hop]) -> dict[str, str]:
    """The codes of these lots and of the tubs and tools on these ways, by id."""
    steps = list(hops)
    lots = {*lot_ids, *(hop.source for hop in steps), *(hop.target for hop in steps)}
    tubs = {tub for hop in steps for tub in (hop.source_tub, hop.target_tub) if tub}
    tools = {hop.tool for hop in steps if hop.tool and hop.way is Way.TOOL}
    found: dict[str, str] = {}
    for table, ids in ((Lot, lots), (Tub, tubs), (Tool, tools)):
        found |= {row[0]: row[1] for row in session.execute(_codes(table, ids)).all()}
    return found


def _codes(table: type[Lot] | type[Tub] | type[Tool], ids: Collection[str]) -> Any:
    return select(table.id, table.code).where(table.id.in_(ids))


def _ordered(found: Iterable[Reached], direction: Direction) -> Sequence[Reached]:
    by_lot = sorted(found, key=lambda reached: reached.lot)
    return sorted(by_lot, key=lambda reached: reached.at, reverse=direction is Direction.BACK)


def _tubs(session: Session, found: Mapping[str, Reached], direction: Direction) -> list[dict[str, Any]]:
    rows = session.execute(
        select(Stay.lot_id, Stay.tub_id, Tub.code, Stay.entered_at, Stay.left_at)
        .join(Tub, Tub.id == Stay.tub_id)
        .where(Stay.lot_id.in_(found), or_(Stay.left_at.is_(None), Stay.left_at > Stay.entered_at))
        .order_by(Tub.code)
    ).all()
    tubs = {}
    for row in rows:
        at = found[row.lot_id].at
        concerned = row.left_at is None or row.left_at > at
        if concerned if direction is Direction.FORWARD else row.entered_at <= at:
            tubs[row.tub_id] = row.code
    return [{"id": tub_id, "code": code} for tub_id, code in tubs.items()]
