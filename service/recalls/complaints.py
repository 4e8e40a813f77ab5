"""What customers found: a complaint holds what is left of the lots and owes a look; then it is judged."""

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from service.clearance.models import Certificate
from service.core.errors import Invalid, NotFound, Refused
from service.inspections.queries import pests
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.lots.holds import lift_hold, place_hold
from service.lots.models import Hold, Lot
from service.lots.rules import ENDED, State
from service.quarantine.escapes import confirm_escape
from service.recalls.customers import served
from service.recalls.models import Complaint, ComplaintLot
from service.recalls.progress import looked_again
from service.recalls.queries import reached_views, served_view
from service.recalls.reach import reach
from service.recalls.rules import Settlement, Verdict, known_reasons, verdict_reasons
from service.recalls.rules_tracing import Direction
from service.sales.models import Dispatch
from service.sales.queries import lines_of

CAUSE = "complaint"
HIDDEN = {"recorded_at"}
COMPLAINT = tuple(column.key for column in Complaint.__table__.columns if column.key not in HIDDEN)


def complaints(*, judged: bool | None, lot: str | None) -> Select[Any]:
    """Complaints, of a lot or judged (or not yet judged) when asked."""
    found = select(*(getattr(Complaint, name) for name in COMPLAINT))
    if judged is not None:
        found = found.where(Complaint.verdict.is_not(None) if judged else Complaint.verdict.is_(None))
    if lot is not None:
        found = found.where(
            Complaint.id.in_(select(ComplaintLot.complaint_id).where(ComplaintLot.lot_id == lot))
        )
    return found


def complaint_shape(row: Sequence[Any]) -> dict[str, Any]:
    """A complaint as listed."""
    return dict(zip(COMPLAINT, row, strict=True))


def complaint_by_id(session: Session, complaint_id: str) -> Complaint:
    """One complaint; raises NotFound."""
    found = session.get(Complaint, complaint_id)
    if found is None:
        raise NotFound("complaint")
    return found


def lots_of(session: Session, complaint_id: str) -> list[str]:
    """The ids of the lots that a complaint is about."""
    wanted = select(ComplaintLot.lot_id).where(ComplaintLot.complaint_id == complaint_id)
    return list(session.scalars(wanted.order_by(ComplaintLot.lot_id)))


def complaint_view(session: Session, complaint: Complaint, *, names: bool) -> dict[str, Any]:
    """One complaint as answered: its lots, and the trace it starts, forward and back."""
    ids = lots_of(session, complaint.id)
    holds = {
        row.lot_id: row.hold_id
        for row in session.scalars(select(ComplaintLot).where(ComplaintLot.complaint_id == complaint.id))
    }
    received = session.execute(select(Lot.id, Lot.received_at).where(Lot.id.in_(ids))).all()
    forward = reach(session, {row.id: row.received_at for row in received})
    back = reach(session, dict.fromkeys(ids, complaint.at), Direction.BACK)
    sent = served(session, {lot_id: reached.at for lot_id, reached in forward.items()})
    return {
        **complaint_shape([getattr(complaint, name) for name in COMPLAINT]),
        "lots": [
            {
                "lot_id": lot.lot_id,
                "lot_code": lot.code,
                "hold_id": holds[lot.lot_id],
                "ended": lot.ended,
                "looked_at": lot.looked_at,
            }
            for lot in looked_again(session, ids, complaint.at)
        ],
        "trace": {
            "forward": reached_views(session, forward, Direction.FORWARD),
            "back": reached_views(session, back, Direction.BACK),
            "customers": [served_view(line, names=names) for line in sent],
        },
    }


def complain(session: Session, act: Act, facts: Mapping[str, Any]) -> Complaint:
    """Record what a customer found and hold what is left of the lots; certificates stay as they are.

    One photo is a hold and a new look, not a revocation. Raises Invalid naming the member, Refused
    `complaint-known` when one of the same waits for its verdict and `confirm_duplicate` was not said.
    """
    named = dict(facts)
    serial = named.pop("certificate_serial")
    certificate = _certificate(session, serial) if serial else None
    sent = _dispatch(session, named["dispatch_id"]) if named["dispatch_id"] else None
    not_before(act.at, sent.at if sent else certificate.issued_at if certificate else act.at, "the sale")
    if named["pest"] is not None and named["pest"] not in pests(session).known:
        raise Invalid.at("#/pest", "There is no such pest.", code="unknown-pest")
    lots = _locked(session, _lots(session, named.pop("lot_id"), sent, certificate))
    if not named.pop("confirm_duplicate"):
        known = _known(session, sent, certificate, named["pest"], [lot.id for lot in lots])
        Refused.unless_empty("complaint-known", known_reasons(known), allowed=["confirm_duplicate"])
    complaint = Complaint(
        certificate_id=certificate.id if certificate else None,
        at=act.at,
        recorded_at=act.now,
        by=act.by,
        **named,
    )
    session.add(complaint)
    session.flush()
    for lot in lots:
        hold = None
        if State(lot.state) not in ENDED:
            hold = place_hold(session, act, lot, cause=CAUSE, reason=f"Complaint {complaint.id}")
        session.add(ComplaintLot(complaint_id=complaint.id, lot_id=lot.id, hold_id=hold.id if hold else None))
    # What the customer said stays out of the journal: it may say who he is.
    told = {name: value for name, value in named.items() if name != "what"}
    after = {**told, "certificate_serial": serial, "lots": [lot.code for lot in lots]}
    record(session, act, "complaint.recorded", [complaint, *lots], after=after)
    return complaint


def lock_complaint(session: Session, complaint_id: str) -> Complaint:
    """A complaint with its lots, locked (lots first, as everywhere); raises NotFound."""
    _locked(session, lots_of(session, complaint_id))
    found = session.get(Complaint, complaint_id, with_for_update=True, populate_existing=True)
    if found is None:
        raise NotFound("complaint")
    return found


def judge(
    session: Session,
    act: Act,
    complaint: Complaint,
    *,
    verdict: Verdict,
    settlement: Settlement,
    claim_on_supplier: bool,
    reason: str,
    pest: str | None,
) -> None:
    """Say whose pest it was, and what it was after all.

    "Not ours" lifts the holds; "ours" is a confirmed escape, which counts against what looks can show and
    in the supplier's record. Raises Refused when judged, or a look is owed; Invalid for an unknown pest.
    """
    if pest is not None and pest not in pests(session).known:
        raise Invalid.at("#/pest", "There is no such pest.", code="unknown-pest")
    lots = looked_again(session, lots_of(session, complaint.id), complaint.at)
    reasons = verdict_reasons(judged=complaint.verdict is not None, verdict=verdict, lots=lots)
    if reasons:
        state = complaint.verdict or "not judged"
        raise Refused(reasons[0].code, " ".join(r.detail for r in reasons), reasons, current_state=state)
    not_before(act.at, complaint.at, "the complaint")
    complaint.verdict, complaint.settlement = verdict.value, settlement.value
    complaint.claim_on_supplier, complaint.verdict_reason = claim_on_supplier, reason
    complaint.judged_at, complaint.judged_by = act.at, act.by
    if verdict is Verdict.NOT_OURS:
        _let_go(session, act, complaint, reason)
    complaint.pest = pest or complaint.pest
    if verdict is Verdict.OURS and complaint.pest is not None:
        about = _locked(session, [lot.lot_id for lot in lots])
        confirm_escape(session, act, complaint.id, about, complaint.pest)
    after = {"verdict": verdict.value, "settlement": settlement.value, "reason": reason, "pest": pest}
    record(session, act, "complaint.judged", [complaint], after=after)


def _let_go(session: Session, act: Act, complaint: Complaint, reason: str) -> None:
    wanted = (
        select(Hold)
        .join(ComplaintLot, ComplaintLot.hold_id == Hold.id)
        .where(ComplaintLot.complaint_id == complaint.id, Hold.lifted_at.is_(None))
    )
    for hold in session.scalars(wanted.order_by(Hold.lot_id)).all():
        lift_hold(session, act, session.get_one(Lot, hold.lot_id), hold, reason=f"Not ours: {reason}")


def _certificate(session: Session, serial: str) -> Certificate:
    found = session.scalars(select(Certificate).where(Certificate.serial == serial)).one_or_none()
    if found is None:
        raise Invalid.at("#/certificate_serial", "There is no such certificate.", code="unknown-certificate")
    return found


def _dispatch(session: Session, dispatch_id: str) -> Dispatch:
    found = session.get(Dispatch, dispatch_id)
    if found is None or found.reversed_at is not None:
        detail = "There is no such dispatch, or it was taken back."
        raise Invalid.at("#/dispatch_id", detail, code="unknown-dispatch")
    return found


def _known(
    session: Session,
    sent: Dispatch | None,
    certificate: Certificate | None,
    pest: str | None,
    lot_ids: Collection[str],
) -> str | None:
    about = select(ComplaintLot.complaint_id).where(ComplaintLot.lot_id.in_(lot_ids))
    return session.scalar(
        select(Complaint.id)
        .where(
            Complaint.dispatch_id == (sent.id if sent else None),
            Complaint.certificate_id == (certificate.id if certificate else None),
            Complaint.pest == pest,
            Complaint.verdict.is_(None),
            Complaint.id.in_(about),
        )
        .order_by(Complaint.at)
        .limit(1)
    )


def _lots(
    session: Session, lot_id: str | None, sent: Dispatch | None, certificate: Certificate | None
) -> set[str]:
    about = {certificate.lot_id} if certificate else set()
    if sent is not None:
        about = {line.lot_id for line in lines_of(session, sent.id)}
    if lot_id is not None and lot_id not in about:
        raise Invalid.at("#/lot_id", "This lot was not in it.", code="unknown-lot")
    return about if lot_id is None else {lot_id}


def _locked(session: Session, ids: Collection[str]) -> Sequence[Lot]:
    wanted = select(Lot).where(Lot.id.in_(ids)).order_by(Lot.id).with_for_update()
    return session.scalars(wanted.execution_options(populate_existing=True)).all()
