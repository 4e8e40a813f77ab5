"""What becomes of certificates: taken back, ended with their lot, divided when it is split."""

from sqlalchemy.orm import Session

from service.clearance.issuing import reissue
from service.clearance.models import Certificate
from service.clearance.queries import living, living_certificate
from service.core.errors import Refused
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.lots.actions import set_state
from service.lots.models import Lot
from service.lots.rules import State


def revoke(session: Session, act: Act, lot: Lot, certificate: Certificate, reason: str) -> None:
    """Take back a certificate of a locked lot; a cleared lot goes back to quarantine with all of its own.

    One of a parcel ends alone: the rest of the lot is judged by what is found in it. Raises Refused.
    """
    if certificate.status != "valid":
        detail = f"This certificate is {certificate.status}."
        raise Refused("certificate-ended", detail, current_state=certificate.status)
    not_before(act.at, certificate.issued_at, "its issue")
    if certificate.dispatch_id is None:
        withdraw(session, act, lot, reason)
    else:
        _end(session, act, lot, certificate, reason)


def withdraw(session: Session, act: Act, lot: Lot, reason: str) -> None:
    """Revoke what a locked lot still has of certificates; nothing brings a revoked one back."""
    if lot.state == State.CLEARED:
        # A find dated before the clearance takes it back from its beginning on, not before.
        since = act.moved(max(act.at, lot.state_since))
        set_state(session, since, lot, State.IN_QUARANTINE, why=reason)  # its reaction ends the certificate
    else:
        end_certificate(session, act, lot, reason)


def end_certificate(session: Session, act: Act, lot: Lot, reason: str) -> None:
    """End the valid certificate of a lot and those of its parcels."""
    for certificate in session.scalars(living(lot.id)).all():
        _end(session, act, lot, certificate, reason)


def end_parcel(session: Session, act: Act, lot: Lot, dispatch_id: str, reason: str) -> None:
    """End the valid certificate of what a dispatch had of a lot, if there is one."""
    for certificate in session.scalars(living(lot.id).where(Certificate.dispatch_id == dispatch_id)).all():
        _end(session, act, lot, certificate, reason)


def _end(session: Session, act: Act, lot: Lot, certificate: Certificate, reason: str) -> None:
    certificate.status, certificate.ended_at, certificate.end_reason = "revoked", act.at, reason
    after = {"serial": certificate.serial, "lot_id": lot.id, "reason": reason}
    record(session, act, "certificate.revoked", [lot, certificate], after=after)


def divide_certificate(session: Session, act: Act, parent: Lot, child: Lot) -> None:
    """Give both parts of a split cleared lot a certificate for their own quantity.

    Parcels sent before keep theirs: the split changed nothing about them; they end with the parent's.
    """
    former = living_certificate(session, parent.id)
    if former is None:
        return
    supersede(session, act, parent, former, "The lot was split.")
    for lot in (child, parent):
        if lot.left > 0:
            lot.certificate_serial = reissue(session, act, lot, former, lot.left).serial
            former.superseded_by = lot.certificate_serial  # the parent's in the end, if it has any left


def supersede(session: Session, act: Act, lot: Lot, former: Certificate, reason: str) -> None:
    """End a certificate that another one stands in for."""
    former.status, former.ended_at, former.end_reason = "superseded", act.at, reason
    record(session, act, "certificate.superseded", [lot, former], after={"serial": former.serial})
