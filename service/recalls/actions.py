"""Starting a recall, telling its customers, and closing it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import orjson
from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlalchemy.orm.exc import StaleDataError

from service.clearance.actions import withdraw
from service.clearance.queries import living_certificate
from service.core.errors import Invalid, Refused
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.lots.holds import lift_hold, place_hold
from service.lots.models import Hold, Lot
from service.lots.rules import ENDED, State
from service.recalls import progress, rules
from service.recalls.models import Recall, RecallLot, RecallNotice
from service.recalls.origins import FIELDS, Source, source
from service.recalls.queries import reached_views
from service.recalls.reach import reach
from service.recalls.rules_tracing import Direction

CAUSE = "recall"


@dataclass(frozen=True)
class Reach:
    """What a recall will stop: its source, and every reached lot as a row to keep, with its lot locked."""

    source: Source
    since: datetime | None
    lots: Mapping[str, Lot]
    rows: list[RecallLot]


def lock_reach(session: Session, facts: Mapping[str, Any]) -> Reach:
    """Find what is within reach of what a body names, and lock its lots by id.

    Raises Invalid naming the member; StaleDataError when the reach grew while waiting for the locks.
    """
    since = facts["since"]
    before = reach(session, source(session, facts, since).start)
    lots = session.scalars(
        select(Lot)
        .where(Lot.id.in_(before))
        .order_by(Lot.id)
        .with_for_update()
        .execution_options(populate_existing=True)
    ).all()
    found = source(session, facts, since)
    reached = reach(session, found.start)
    if not set(reached) <= set(before):
        raise StaleDataError("Another lot came within reach at the same moment.")
    rows = [
        RecallLot(lot_id=view["id"], reached_at=view["at"], path=_kept(view["path"]))
        for view in reached_views(session, reached, Direction.FORWARD)
    ]
    return Reach(found, since, {lot.id: lot for lot in lots}, rows)


def start_recall(session: Session, act: Act, found: Reach, reason: str) -> Recall:
    """Stop what is within reach: hold it, take certificates back, owe looks.

    Raises Refused `recall-open` when there is an open recall of the same thing.
    """
    origin, thing = found.source.origin, found.source.thing
    _refuse_second(session, origin.value, thing.id)
    if found.since is not None:
        not_before(act.at, found.since, "the moment it is followed from")
    recall = Recall(
        origin=origin.value,
        origin_id=thing.id,
        since=found.since,
        reason=reason,
        at=act.at,
        recorded_at=act.now,
        by=act.by,
    )
    session.add(recall)
    session.flush()
    for row in sorted(found.rows, key=lambda row: row.lot_id):
        row.recall_id = recall.id
        _stop(session, act, found.lots[row.lot_id], row, f"Recall: {reason}")
    after = {
        "origin": origin.value,
        "origin_id": thing.id,
        "reason": reason,
        "lots": {found.lots[row.lot_id].code: row.reached_at for row in found.rows},
        "dispatches": sorted({line.dispatch_id for line in progress.customers(session, recall.id)}),
    }
    record(session, act, "recall.started", [recall, *found.lots.values()], after=after)
    return recall


def extend(session: Session, act: Act, recall: Recall, found: Reach) -> None:
    """Take in what facts entered since have brought within reach; Refused when closed, or nothing is new."""
    if recall.closed_at is not None:
        raise Refused("recall-closed", "This recall is closed.", current_state="closed")
    not_before(act.at, recall.at, "the recall")
    known = {row.lot_id: row for row in progress.rows_of(session, recall.id)}
    rows = {row.lot_id: row for row in found.rows}
    earlier = [i for i, row in known.items() if i in rows and rows[i].reached_at < row.reached_at]
    new = sorted(set(rows) - set(known))
    if not earlier and not new:
        raise Refused("nothing-new", "Nothing new is within reach.", current_state="open")
    for lot_id in earlier:
        known[lot_id].reached_at, known[lot_id].path = rows[lot_id].reached_at, rows[lot_id].path
    for lot_id in new:
        rows[lot_id].recall_id = recall.id
        _stop(session, act, found.lots[lot_id], rows[lot_id], f"Recall: {recall.reason}")
    about = [found.lots[lot_id] for lot_id in sorted({*earlier, *new})]
    after = {"lots": {lot.code: rows[lot.id].reached_at for lot in about}}
    record(session, act, "recall.extended", [recall, *about], after=after)


def same_source(recall: Recall) -> dict[str, Any]:
    """What a recall was started from, as a body would name it."""
    named = {name: None for name in FIELDS.values()}
    return {**named, FIELDS[rules.Origin(recall.origin)]: recall.origin_id, "since": recall.since}


def lock_recall(session: Session, recall_id: str) -> Recall:
    """A recall with its lots, locked (lots first, as everywhere); raises NotFound."""
    _locked(session, [row.lot_id for row in progress.rows_of(session, recall_id)])
    return progress.recall_by_id(session, recall_id, lock=True)


def tell(
    session: Session, act: Act, recall: Recall, *, dispatch_id: str, way: rules.NoticeWay, note: str | None
) -> None:
    """Write that the customer of a dispatch was told; raises Refused when told before or closed."""
    states = {found.dispatch_id: found for found in progress.customers_progress(session, recall.id)}
    if dispatch_id not in states:
        raise Invalid.at("#/dispatch_id", "This dispatch is not within the recall.", code="unknown-dispatch")
    told = states[dispatch_id].told_at is not None
    reasons = rules.notice_reasons(closed=recall.closed_at is not None, told=told)
    if reasons:
        raise Refused(reasons[0].code, reasons[0].detail, reasons, current_state=_state(recall))
    not_before(act.at, recall.at, "the recall")
    session.add(
        RecallNotice(
            recall_id=recall.id,
            dispatch_id=dispatch_id,
            way=way.value,
            note=note,
            at=act.at,
            recorded_at=act.now,
            by=act.by,
        )
    )
    after = {"dispatch_id": dispatch_id, "way": way.value}
    record(session, act, "recall.customer_told", [recall], after=after)


def close(session: Session, act: Act, recall: Recall, *, conclusion: str) -> None:
    """Close a locked recall (`lock_recall`) and lift its holds.

    Raises Refused naming every look and notice still owed.

    What it sent back to quarantine stays there: only a clearance makes it saleable again.
    """
    reasons = rules.closing_reasons(
        closed=recall.closed_at is not None,
        grown=len(progress.grown(session, recall)),
        lots=progress.lots_progress(session, recall),
        customers=progress.customers_progress(session, recall.id),
    )
    if reasons:
        code = "recall-closed" if recall.closed_at else "recall-unfinished"
        raise Refused(code, " ".join(r.detail for r in reasons), reasons, current_state=_state(recall))
    not_before(act.at, recall.at, "the recall")
    recall.closed_at, recall.closed_by, recall.conclusion = act.at, act.by, conclusion
    for row in progress.rows_of(session, recall.id):
        hold = session.get(Hold, row.hold_id) if row.hold_id else None
        if hold is not None and hold.lifted_at is None:
            lift_hold(
                session, act, session.get_one(Lot, row.lot_id), hold, reason=f"Recall closed: {conclusion}"
            )
    record(session, act, "recall.closed", [recall], after={"conclusion": conclusion})


def _stop(session: Session, act: Act, lot: Lot, row: RecallLot, reason: str) -> None:
    certificate = living_certificate(session, lot.id)
    row.revoked_serial = None if certificate is None else certificate.serial
    if State(lot.state) not in ENDED:
        row.hold_id = place_hold(session, act, lot, cause=CAUSE, reason=reason).id
    withdraw(session, act, lot, reason)
    session.add(row)
    session.flush()


def _locked(session: Session, ids: list[str]) -> dict[str, Lot]:
    wanted = select(Lot).where(Lot.id.in_(ids)).order_by(Lot.id).with_for_update()
    found = session.scalars(wanted.execution_options(populate_existing=True)).all()
    return {lot.id: lot for lot in found}


def _refuse_second(session: Session, origin: str, origin_id: str) -> None:
    opened = session.scalar(
        select(Recall.id).where(
            Recall.origin == origin, Recall.origin_id == origin_id, Recall.closed_at.is_(None)
        )
    )
    if opened is not None:
        detail = f"There is an open recall of this already: {opened}. Close it first."
        raise Refused("recall-open", detail, current_state="open")


def _state(recall: Recall) -> str:
    return "open" if recall.closed_at is None else "closed"


def _kept(views: Any) -> Any:
    return orjson.loads(orjson.dumps(views, option=orjson.OPT_UTC_Z))
