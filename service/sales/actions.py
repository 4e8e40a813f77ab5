"""Sending plants to customers, and taking back an entry made by mistake."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.clearance.actions import end_parcel
from service.clearance.models import Certificate
from service.core.errors import Invalid, NotFound, Refused
from service.core.reasons import Reason
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.lots.actions import lock_water_group, put_back, take
from service.lots.models import Lot
from service.lots.queries import hold_causes
from service.sales.models import Dispatch, DispatchLine
from service.sales.queries import lines_of
from service.sales.rules import Good, dispatch_reasons

Keyed = Callable[[str], str]


def dispatch(session: Session, act: Act, facts: Mapping[str, Any], keyed: Keyed) -> Dispatch:
    """Send units of cleared lots to one order, all lines or none.

    `keyed` hides the customer's reference: personal data never enters the journal.
    """
    lots = _locked(session, facts["lines"])
    _refuse(session, act, facts["lines"], lots)
    sent = Dispatch(
        order_ref=facts["order_ref"],
        customer_ref=facts["customer_ref"],
        at=act.at,
        recorded_at=act.now,
        by=act.by,
        pack_check=facts["pack_check"],
    )
    session.add(sent)
    session.flush()
    for n, line in enumerate(facts["lines"], 1):
        session.add(DispatchLine(dispatch_id=sent.id, n=n, lot_id=line["lot_id"], quantity=line["quantity"]))
    customer = keyed(facts["customer_ref"]) if facts["customer_ref"] else None
    after = {"order_ref": facts["order_ref"], "customer": customer, "lines": facts["lines"]}
    record(session, act, "dispatch.made", [sent, *_of(facts["lines"], lots)], after=after)
    for line in facts["lines"]:
        take(session, act, lots[line["lot_id"]], quantity=line["quantity"], into="sold")
    return sent


def dispatch_for_change(session: Session, dispatch_id: str) -> Dispatch:
    """One dispatch, locked after the lots of its lines, as everything is; raises NotFound."""
    lock_water_group(session, sorted({line.lot_id for line in lines_of(session, dispatch_id)}))
    found = session.get(Dispatch, dispatch_id, with_for_update=True)
    if found is None:
        raise NotFound("dispatch")
    return found


def reverse(session: Session, act: Act, sent: Dispatch, *, reason: str) -> None:
    """Take back a locked dispatch that was entered by mistake; refused when done, or a lot has ended."""
    if sent.reversed_at is not None:
        raise Refused("already-reversed", "This dispatch was taken back before.")
    not_before(act.at, sent.at, "the dispatch")
    lines = lines_of(session, sent.id)
    lots = {line.lot_id: session.get_one(Lot, line.lot_id) for line in lines}
    for line in lines:
        put_back(lots[line.lot_id], quantity=line.quantity)
        end_parcel(
            session, act, lots[line.lot_id], sent.id, "The parcel came to nothing: its dispatch was reversed."
        )
    sent.reversed_at, sent.reversal_reason = act.at, reason
    about = sorted({line.lot_id for line in lines})
    record(session, act, "dispatch.reversed", [sent, *(lots[i] for i in about)], after={"reason": reason})


def _of(lines: Sequence[Mapping[str, Any]], lots: Mapping[str, Lot]) -> list[Lot]:
    return [lots[lot_id] for lot_id in sorted({line["lot_id"] for line in lines})]


def _locked(session: Session, lines: Sequence[Mapping[str, Any]]) -> dict[str, Lot]:
    wanted = {line["lot_id"] for line in lines}
    known = set(session.scalars(select(Lot.id).where(Lot.id.in_(wanted))))
    for n, line in enumerate(lines):
        if line["lot_id"] not in known:
            raise Invalid.at(f"#/lines/{n}/lot_id", "There is no such lot.", code="unknown-lot")
    return {lot.id: lot for lot in lock_water_group(session, sorted(wanted))}


def _refuse(session: Session, act: Act, lines: Sequence[Mapping[str, Any]], lots: Mapping[str, Lot]) -> None:
    asked: dict[str, int] = {}
    for line in lines:
        asked[line["lot_id"]] = asked.get(line["lot_id"], 0) + line["quantity"]
    missing = []
    for lot_id, quantity in asked.items():
        lot = lots[lot_id]
        causes = hold_causes(session, lot_id)
        reasons = dispatch_reasons(lot.state, causes, _good(session, lot), act.at)
        Refused.unless_empty("not-for-sale", reasons, current_state=lot.state)
        not_before(act.at, lot.cleared_at or act.at, "the clearance of the lot")
        free = lot.left - lot.reserved
        if quantity > free:
            detail = f"Lot {lot.code} has {free} left, {quantity} were asked for."
            missing.append(Reason("not-enough-left", detail, quantity, free))
    Refused.unless_empty("not-enough-left", missing)


def _good(session: Session, lot: Lot) -> Good | None:
    expires_at = session.scalar(
        select(Certificate.expires_at).where(
            Certificate.serial == lot.certificate_serial, Certificate.status == "valid"
        )
    )
    return None if expires_at is None or lot.good_until is None else Good(expires_at, lot.good_until)
