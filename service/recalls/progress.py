"""How far a recall has come: which lots were looked at again, which customers were told."""

from collections.abc import Collection, Sequence
from datetime import datetime
from functools import cache
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from service.core.errors import NotFound
from service.inspections.queries import looks_of
from service.lots.models import Lot
from service.lots.rules import ENDED, State
from service.recalls.customers import Served, served
from service.recalls.models import Recall, RecallLot, RecallNotice
from service.recalls.origins import begun_from
from service.recalls.queries import served_view
from service.recalls.reach import reach
from service.recalls.rules import CustomerProgress, LotProgress, Origin
from service.recalls.rules_tracing import Reached

RECALL = (
    "id",
    "origin",
    "origin_id",
    "since",
    "reason",
    "at",
    "by",
    "closed_at",
    "closed_by",
    "conclusion",
    "version",
)


@cache
def recalls() -> Select[Any]:
    """Every recall."""
    return select(*(getattr(Recall, name) for name in RECALL))


def recall_shape(row: Sequence[Any]) -> dict[str, Any]:
    """A recall as listed."""
    return dict(zip(RECALL, row, strict=True))


def recall_by_id(session: Session, recall_id: str, *, lock: bool = False) -> Recall:
    """One recall; raises NotFound."""
    found = session.get(Recall, recall_id, with_for_update=lock or None, populate_existing=lock)
    if found is None:
        raise NotFound("recall")
    return found


def grown(session: Session, recall: Recall) -> dict[str, Reached]:
    """What facts entered since brought within reach: lots not in an open recall, or reached earlier."""
    if recall.closed_at is not None:
        return {}
    known = {row.lot_id: row.reached_at for row in rows_of(session, recall.id)}
    found = reach(session, begun_from(session, Origin(recall.origin), recall.origin_id, recall.since))
    return {
        lot_id: reached
        for lot_id, reached in found.items()
        if lot_id not in known or reached.at < known[lot_id]
    }


def rows_of(session: Session, recall_id: str) -> Sequence[RecallLot]:
    """The lots of a recall, in the order they were reached."""
    wanted = select(RecallLot).where(RecallLot.recall_id == recall_id)
    return session.scalars(wanted.order_by(RecallLot.reached_at, RecallLot.lot_id)).all()


def recall_view(session: Session, recall: Recall, newly: int, *, names: bool) -> dict[str, Any]:
    """One recall as answered, with its lots, customers and progress; `newly` lots came within reach since."""
    lots = {found.lot_id: found for found in lots_progress(session, recall)}
    sent = customer_views(session, recall, names=names)
    told = {line["dispatch_id"]: line["told_at"] for line in sent}
    shown = [
        {
            "lot_id": row.lot_id,
            "lot_code": lots[row.lot_id].code,
            "reached_at": row.reached_at,
            "path": row.path,
            "hold_id": row.hold_id,
            "revoked_serial": row.revoked_serial,
            "ended": lots[row.lot_id].ended,
            "looked_at": lots[row.lot_id].looked_at,
        }
        for row in rows_of(session, recall.id)
    ]
    return {
        **recall_shape([getattr(recall, name) for name in RECALL]),
        "state": "open" if recall.closed_at is None else "closed",
        "lots": shown,
        "customers": sent,
        "progress": {
            "lots": len(shown),
            "looks_owed": sum(lot.owes_look for lot in lots.values()),
            "customers": len(told),
            "customers_to_tell": sum(at is None for at in told.values()),
            "newly_within_reach": newly,
        },
    }


def customer_views(session: Session, recall: Recall, *, names: bool) -> list[dict[str, Any]]:
    """What each customer got as answered, and when he was told."""
    told = {found.dispatch_id: found.told_at for found in customers_progress(session, recall.id)}
    return [
        {**served_view(line, names=names), "told_at": told[line.dispatch_id]}
        for line in customers(session, recall.id)
    ]


def customers(session: Session, recall_id: str) -> list[Served]:
    """What left of the lots of a recall since each was reached."""
    return served(session, {row.lot_id: row.reached_at for row in rows_of(session, recall_id)})


def customers_progress(session: Session, recall_id: str) -> list[CustomerProgress]:
    """Each dispatch of a recall, and when its customer was told."""
    notices = session.execute(
        select(RecallNotice.dispatch_id, RecallNotice.at).where(RecallNotice.recall_id == recall_id)
    ).all()
    told = {row.dispatch_id: row.at for row in notices}
    sent = dict.fromkeys(line.dispatch_id for line in customers(session, recall_id))
    return [CustomerProgress(dispatch_id, told.get(dispatch_id)) for dispatch_id in sent]


def lots_progress(session: Session, recall: Recall) -> list[LotProgress]:
    """Each lot of a recall, and the first look at it since."""
    return looked_again(session, [row.lot_id for row in rows_of(session, recall.id)], recall.at)


def looked_again(session: Session, lot_ids: Collection[str], since: datetime) -> list[LotProgress]:
    """Each of these lots, and the first look at it (not only at its water) since a moment."""
    lots = session.execute(
        select(Lot.id, Lot.code, Lot.state).where(Lot.id.in_(lot_ids)).order_by(Lot.id)
    ).all()
    looks = looks_of(session, lot_ids)
    return [
        LotProgress(
            lot.id,
            lot.code,
            State(lot.state) in ENDED,
            min((look.at for look in looks[lot.id] if look.at >= since and not look.whole_tub), default=None),
        )
        for lot in lots
    ]
