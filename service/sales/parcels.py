"""A customer's own certificate: for what his parcel has of each lot."""

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.clearance.issuing import certificate_of_parcel
from service.clearance.models import Certificate
from service.clearance.queries import living_certificate
from service.core.errors import Refused
from service.core.reasons import Reason
from service.journal.acts import Act, not_before
from service.lots.actions import lock_water_group
from service.lots.models import Lot
from service.lots.queries import hold_causes
from service.sales.models import Dispatch
from service.sales.queries import lines_of
from service.sales.rules_parcels import parcel_reasons


def certify(session: Session, act: Act, sent: Dispatch) -> None:
    """Issue a certificate for what a locked dispatch has of each lot; one that stands already stays.

    Refused, all lots or none, when the dispatch was reversed or what a lot states does not stand now.
    """
    if sent.reversed_at is not None:
        raise Refused("already-reversed", "This dispatch was taken back.", current_state="reversed")
    not_before(act.at, sent.at, "the dispatch")
    asked: dict[str, int] = {}
    for line in lines_of(session, sent.id):
        asked[line.lot_id] = asked.get(line.lot_id, 0) + line.quantity
    lots = {lot.id: lot for lot in lock_water_group(session, sorted(asked))}
    wholes = {lot_id: living_certificate(session, lot_id) for lot_id in sorted(asked)}
    _refuse(session, act, {lot_id: lots[lot_id] for lot_id in asked}, wholes)
    for lot_id, whole in wholes.items():
        if whole is not None and not _stands(session, lot_id, sent.id):
            quantity, of = asked[lot_id], (sent.id, sent.at)
            certificate_of_parcel(session, act, lots[lot_id], whole, quantity=quantity, sent=of)


def _refuse(session: Session, act: Act, lots: dict[str, Lot], wholes: dict[str, Certificate | None]) -> None:
    reasons: list[Reason] = []
    for lot_id, lot in lots.items():
        whole = wholes[lot_id]
        valid = whole is not None and whole.expires_at > act.at
        reasons += parcel_reasons(lot.code, hold_causes(session, lot_id), certificate_valid=valid)
    Refused.unless_empty("no-certificate", reasons)


def _stands(session: Session, lot_id: str, dispatch_id: str) -> bool:
    wanted = select(Certificate.id).where(
        Certificate.lot_id == lot_id, Certificate.dispatch_id == dispatch_id, Certificate.status == "valid"
    )
    return session.scalar(wanted) is not None
