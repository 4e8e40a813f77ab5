"""Issuing certificates: number, claims, signature, and their rows."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, cast

from sqlalchemy.orm import Session

from service.catalogue.models import Plant
from service.clearance.judging import Judged
from service.clearance.models import Certificate, Clearance
from service.clearance.rules import RULES_VERSION, Gate
from service.clearance.rules_animals import Asked, told
from service.clearance.rules_statement import (
    NOT_ASKED,
    SEALED,
    Issue,
    Procedure,
    Subject,
    claims,
    of_parcel,
    reissued,
)
from service.clearance.rules_words import printed, word_reasons
from service.clearance.signing import SIGNER, Signer, claims_of
from service.core.errors import Refused
from service.core.house import house
from service.core.ids import new_serial
from service.inspections.queries import Look
from service.intake.queries import supplier_was_asked
from service.journal.actions import record
from service.journal.acts import Act
from service.lots.models import Lot
from service.quarantine.queries import figures
from service.quarantine.rules_freedom import Freedom
from service.reference.loader import shipped
from service.treatments.rules import TreatmentFact


def certificate_for(session: Session, act: Act, found: Judged, clearance: Clearance) -> Certificate:
    """Issue the certificate of a lot that was just judged; raises Refused for words that it may not print."""
    lot = found.evidence.lot
    valid = timedelta(days=figures(found.policy).statement.valid_days)
    issue = _issue(session, act, act.at + valid)
    content = claims(issue, _subject(session, lot, lot.left), _procedure(session, found, clearance))
    Refused.unless_empty("official-words", word_reasons(printed(content)), current_state=lot.state)
    return _issued(session, act, lot, decision=clearance.id, issue=issue, content=content)


def reissue(session: Session, act: Act, lot: Lot, former: Certificate, quantity: int) -> Certificate:
    """Issue what stands in for a former certificate (of a lot or parcel), not longer valid than it."""
    issue = _issue(session, act, former.expires_at)
    content = reissued(claims_of(former.jws), issue, _subject(session, lot, quantity))
    decision, parcel = former.clearance_id, former.dispatch_id
    return _issued(session, act, lot, decision=decision, issue=issue, content=content, parcel=parcel)


def certificate_of_parcel(
    session: Session, act: Act, lot: Lot, whole: Certificate, *, quantity: int, sent: tuple[str, datetime]
) -> Certificate:
    """Issue a customer's own, for what a dispatch (its id and when it was sent) has of a lot."""
    issue = _issue(session, act, whole.expires_at)
    content = of_parcel(claims_of(whole.jws), issue, _subject(session, lot, quantity), sent[1])
    decision = whole.clearance_id
    return _issued(session, act, lot, decision=decision, issue=issue, content=content, parcel=sent[0])


def _issued(
    session: Session,
    act: Act,
    lot: Lot,
    *,
    decision: str,
    issue: Issue,
    content: Mapping[str, Any],
    parcel: str | None = None,
) -> Certificate:
    certificate = Certificate(
        serial=issue.serial,
        clearance_id=decision,
        lot_id=lot.id,
        lot_code=lot.code,
        quantity=content["quantity"],
        unit_of_sale=lot.unit_of_sale,
        dispatch_id=parcel,
        status="valid",
        issued_at=issue.issued_at,
        expires_at=issue.expires_at,
        jws=signer(session).sign(content),
    )
    session.add(certificate)
    after = {"serial": issue.serial, "quantity": content["quantity"], "expires_at": issue.expires_at}
    if parcel is not None:
        after["dispatch_id"] = parcel
    record(session, act, "certificate.issued", [lot, certificate], after=after)
    return certificate


def signer(session: Session) -> Signer:
    """What signs for this house."""
    return cast(Signer, session.info[SIGNER])


def _issue(session: Session, act: Act, expires_at: datetime) -> Issue:
    found, serial = house(session), new_serial()
    return Issue(
        serial=serial,
        issuer=signer(session).public_url,
        issuer_name=found.issuer_name,
        issuer_address=found.issuer_address,
        check_url=signer(session).check_url(serial),
        issued_at=act.at,
        expires_at=expires_at,
    )


def _subject(session: Session, lot: Lot, quantity: int) -> Subject:
    plant = session.get_one(Plant, lot.plant_id)
    return Subject(lot.id, lot.code, plant.scientific_name, quantity, lot.unit_of_sale)


def _procedure(session: Session, found: Judged, clearance: Clearance) -> Procedure:
    known, reference = found.evidence, shipped()
    pests = [
        pest for pest in reference.pests.values() if pest.category == "hitch_hiker" and pest.resets_clock
    ]
    sealed = [] if known.lot.sealed_since is None else [SEALED]
    unasked = [] if supplier_was_asked(session, known.lot) else [NOT_ASKED]
    uncovered = [sentence for pest in reference.pests.values() for sentence in pest.not_covered]
    return Procedure(
        pests=[pest.name for pest in pests],
        treatments=[_treated(fact) for fact in known.treatments],
        looks=_looked(known.looks),
        clock_started_at=known.projection.clock_started_at,
        policy=found.policy.code,
        policy_version=found.policy.number,
        rules_version=RULES_VERSION,
        reference_version=found.inputs.figures_version,
        chances=[_chance(judged) for judged in found.freedoms],
        overrides=_overridden(found.gates, clearance.overrides),
        sentences=[*sealed, *unasked, *uncovered, *reference.statement_cautions()],
        animals=told(found.inputs.animals, _asked(found)),
    )


def _asked(found: Judged) -> Asked:
    rules = figures(found.policy).residue
    return Asked(rules.shrimp, rules.water_fleas, rules.animals_alive_h)


def _overridden(gates: Sequence[Gate], overrides: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """What was not met and why it was cleared all the same; whose token it was is nobody's business."""
    shut = {gate.code: gate for gate in gates}
    return [
        {
            "gate": override["gate"],
            "needed": shut[override["gate"]].needed,
            "have": shut[override["gate"]].have,
            "not_met": shut[override["gate"]].reason,
            "reason": override["reason"],
        }
        for override in overrides
    ]


def _chance(judged: Freedom) -> dict[str, Any]:
    return {
        "pest": judged.pest,
        "chance": round(judged.probability, 4),
        "never_seen_share": judged.never_seen_share,
    }


def _treated(fact: TreatmentFact) -> dict[str, Any]:
    return {
        "protocol": fact.protocol_code,
        "version": fact.number,
        "from": None if fact.started_at is None else fact.started_at.isoformat(),
        "to": None if fact.ended_at is None else fact.ended_at.isoformat(),
        "state": fact.state,
    }


def _looked(looks: Sequence[Look]) -> list[dict[str, Any]]:
    return [
        {
            "at": look.at.isoformat(),
            "method": look.method,
            "looked_at": look.sample_size,
            "of": look.lot_size,
            "live_found": sum(find.live for find in look.findings),
        }
        for look in looks
    ]
