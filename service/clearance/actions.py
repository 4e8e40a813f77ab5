"""Deciding about lots: clearing them, issuing certificates, and taking certificates back."""

from dataclasses import asdict
from datetime import timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.clearance import rules
from service.clearance.issuing import certificate_for, reissue
from service.clearance.models import Certificate, Clearance
from service.clearance.queries import Judged, judge, living, living_certificate
from service.clearance.rules_status import good_until
from service.core.errors import Refused
from service.core.reasons import Reason
from service.inspections.models import Inspection
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.journal.rules import plain
from service.lots.actions import set_state
from service.lots.models import Lot
from service.lots.rules import State, allowed_moves, transition_reasons
from service.quarantine.models import Policy
from service.quarantine.queries import figures
from service.reference.loader import shipped


def clear(session: Session, act: Act, lot: Lot, policy: Policy) -> Certificate:
    """Clear a locked lot and issue its certificate.

    Raises Refused naming every gate that is shut, or that a second person must decide.
    """
    state = State(lot.state)
    refused = {"current_state": state.value, "allowed": allowed_moves(state)}
    Refused.unless_empty("transition-not-allowed", transition_reasons(state, State.CLEARED), **refused)
    not_before(act.at, lot.state_since, "its quarantine")
    found = judge(session, lot, act.at, policy)
    Refused.unless_empty("gates-not-met", rules.failing(found.gates), **refused)
    Refused.unless_empty("second-person-needed", _second_person(session, act, found), **refused)
    clearance = _decided(session, act, found)
    certificate = certificate_for(session, act, found, clearance)
    again = timedelta(days=figures(policy).looks.again_after_days)
    good = good_until(certificate.expires_at, found.evidence.counted, act.at, again)
    set_state(
        session,
        act,
        lot,
        State.CLEARED,
        why="Every gate holds.",
        certificate_serial=certificate.serial,
        good_until=good,
    )
    return certificate


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


def _decided(session: Session, act: Act, found: Judged) -> Clearance:
    lot, policy = found.evidence.lot, found.policy
    clearance = Clearance(
        lot_id=lot.id,
        at=act.at,
        recorded_at=act.now,
        by=act.by,
        gates=plain([asdict(gate) for gate in found.gates]),
        policy=policy.code,
        policy_version=policy.number,
        rules_version=rules.RULES_VERSION,
        reference_version=shipped().version,
    )
    session.add(clearance)
    after = {"policy": policy.code, "policy_version": policy.number, "gates": clearance.gates}
    record(session, act, "clearance.decided", [lot], after=after)
    return clearance


def _second_person(session: Session, act: Act, found: Judged) -> list[Reason]:
    if not figures(found.policy).statement.four_eyes:
        return []
    looks = [look for look in found.evidence.looks if look.at in found.evidence.counted]
    last = max(looks, key=lambda look: look.at)
    by = session.scalar(select(Inspection.by).where(Inspection.id == last.inspection_id))
    if by != act.by:
        return []
    detail = "Whoever made the last look does not decide: ask a second person."
    return [Reason("second-person-needed", detail)]
