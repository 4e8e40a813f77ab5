"""Plants that customers send back: a new lot each, from the beginning on, and never back on the shelf."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.core.errors import Invalid, Refused
from service.intake.rules import treatment_unknown
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.lots.actions import enter_tub, lock_water_group, receive
from service.lots.models import Lot
from service.lots.moves import named_tub
from service.sales.models import Dispatch
from service.sales.queries import lines_of
from service.sales.return_models import ReturnedLot
from service.sales.rules_returns import return_reasons, returned_code

KEPT = (
    "plant_id",
    "supplier_id",
    "shipment_id",
    "unit_of_sale",
    "stems_per_bunch",
    "untied",
    "kept_in_wool",
    "strata",
)


def take_back(session: Session, act: Act, facts: Mapping[str, Any]) -> list[Lot]:
    """Receive what came back of a dispatch: each line becomes a lot that is received now.

    It keeps no clock, look or treatment of what was sent: nobody knows the water it stood in since. Tracing
    leads to it from that lot. Raises Invalid naming the line, Refused for a dispatch that never was.
    """
    tub = named_tub(session, facts["tub_id"])
    sent_lines = lines_of(session, facts["dispatch_id"])
    named = {line.lot_id for line in sent_lines}
    locked = lock_water_group(session, sorted(named), [tub.id] if tub else [], since=act.at)
    lots = {lot.id: lot for lot in locked}
    sent = session.get(Dispatch, facts["dispatch_id"], with_for_update=True)
    if sent is None:
        raise Invalid.at("#/dispatch_id", "There is no such dispatch.", code="unknown-dispatch")
    if sent.reversed_at is not None:
        raise Refused("already-reversed", "This dispatch was taken back: nothing of it was ever sent.")
    not_before(act.at, sent.at, "the dispatch")
    quantities: dict[str, int] = {}
    for line in sent_lines:
        quantities[line.lot_id] = quantities.get(line.lot_id, 0) + line.quantity
    reasons = return_reasons(facts["lines"], quantities, returned_of(session, sent.id))
    if reasons:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)
    made = [
        _receive(session, act, sent, lots[line["lot_id"]], quantity=line["quantity"], facts=facts)
        for line in facts["lines"]
    ]
    about = [sent, *(lots[line["lot_id"]] for line in facts["lines"]), *made]
    lines = [
        {"lot_id": lot.id, "sold_lot_id": line["lot_id"], "quantity": line["quantity"]}
        for lot, line in zip(made, facts["lines"], strict=True)
    ]
    after = {"reason": facts["reason"], "lines": lines}
    record(session, act, "dispatch.returned", about, after=after)
    if tub is not None:
        enter_tub(session, act, made, tub, share_water=facts["share_water"], by_intent=True)
    return made


def returned_of(session: Session, dispatch_id: str) -> dict[str, int]:
    """How many units of each lot came back from a dispatch."""
    rows = session.execute(
        select(ReturnedLot.from_lot_id, func.sum(ReturnedLot.quantity))
        .where(ReturnedLot.dispatch_id == dispatch_id)
        .group_by(ReturnedLot.from_lot_id)
    ).all()
    return {row[0]: row[1] for row in rows}


def _receive(
    session: Session, act: Act, sent: Dispatch, lot: Lot, *, quantity: int, facts: Mapping[str, Any]
) -> Lot:
    before = select(func.count()).where(ReturnedLot.from_lot_id == lot.id)
    kept = {name: getattr(lot, name) for name in KEPT}
    back = receive(
        session,
        act,
        {
            **kept,
            "code": returned_code(lot.code, session.scalar(before) or 0),
            "received": quantity,
            "supplier_treatment_unknown": treatment_unknown(facts["treated_with"]),
            "returned_from_id": lot.id,
            "away_since": sent.at,
        },
    )
    session.flush()
    session.add(
        ReturnedLot(
            dispatch_id=sent.id,
            from_lot_id=lot.id,
            lot_id=back.id,
            quantity=quantity,
            reason=facts["reason"],
            at=act.at,
            recorded_at=act.now,
            by=act.by,
        )
    )
    session.flush()
    return back
