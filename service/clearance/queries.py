"""Reading clearance: gates as they are now, and certificates with the status they have today."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Select, and_, exists, func, select
from sqlalchemy.orm import Session

from service.clearance.models import Certificate
from service.clearance.plants import health, listed
from service.clearance.residue import lingering_since, washed
from service.clearance.rules import RULES_VERSION, Gate, GateFacts, gates
from service.clearance.rules_residue import ResidueFacts, clinging
from service.clearance.rules_status import status_of
from service.clearance.signing import claims_of
from service.clearance.weather import weather
from service.core.errors import NotFound
from service.lots.models import Hold, Lot
from service.lots.queries import hold_causes
from service.lots.rules import State
from service.quarantine.evidence import Evidence, evidence
from service.quarantine.freedom import freedoms
from service.quarantine.models import Policy
from service.quarantine.queries import figures, release_day
from service.quarantine.rules_freedom import Freedom, outlook_of
from service.reference import policies as reference
from service.reference.loader import shipped
from service.treatments.queries import residue_of_lot
from service.treatments.rules import ACTIVE, TreatmentFact
from service.treatments.rules import State as TreatmentState

CERTIFICATE = (
    "serial",
    "lot_id",
    "lot_code",
    "quantity",
    "unit_of_sale",
    "dispatch_id",
    "status",
    "issued_at",
    "expires_at",
    "ended_at",
    "end_reason",
    "superseded_by",
    "jws",
)


@dataclass(frozen=True)
class Judged:
    """One lot under one policy: what is known, and every gate."""

    evidence: Evidence
    gates: list[Gate]
    policy: Policy
    freedoms: list[Freedom]

    @property
    def decidable(self) -> bool:
        """True when it could be cleared now."""
        return self.evidence.lot.state == State.IN_QUARANTINE and all(gate.ok for gate in self.gates)


def judge(session: Session, lot: Lot, at: datetime, policy: Policy) -> Judged:
    """Judge a lot afresh from facts, never from what is stored."""
    rules = figures(policy)
    known = evidence(session, [lot], at, rules)[lot.id]
    free = freedoms(session, known, at, rules)
    return Judged(known, gates(_facts(session, known, at, rules, free), at), policy, free)


def judged_view(session: Session, found: Judged, now: datetime) -> dict[str, Any]:
    """The gates of a lot as answered."""
    outlook = outlook_of(found.freedoms, figures(found.policy).freedom.target)
    return {
        "lot_id": found.evidence.lot.id,
        "decidable": found.decidable,
        "release_day": release_day(session, found.evidence.projection, outlook),
        "probability_of_freedom": min((free.probability for free in found.freedoms), default=None),
        "freedom": [asdict(free) for free in found.freedoms],
        "policy": found.policy.code,
        "policy_version": found.policy.number,
        "rules_version": RULES_VERSION,
        "reference_version": shipped().version,
        "computed_at": now,
        "gates": [asdict(gate) for gate in found.gates],
        "explained": list(weather(session, found.evidence, now)),
    }


def policies() -> Select[Any]:
    """Every version of every policy."""
    return select(
        Policy.id, Policy.code, Policy.number, Policy.content, Policy.reference_version, Policy.created_at
    )


def policy_shape(row: Sequence[Any]) -> dict[str, Any]:
    """A policy version as answered."""
    id_, code, number, content, reference_version, created_at = row
    return {
        **content,
        "id": id_,
        "code": code,
        "version": number,
        "reference_version": reference_version,
        "created_at": created_at,
    }


def policy_view(policy: Policy) -> dict[str, Any]:
    """One policy version as answered."""
    return policy_shape(
        [
            policy.id,
            policy.code,
            policy.number,
            policy.content,
            policy.reference_version,
            policy.created_at,
        ]
    )


def certificates(lot_id: str | None = None) -> Select[Any]:
    """Certificates, all or of one lot, each with until when its lot is good and whether that is on hold."""
    held = exists().where(Hold.lot_id == Certificate.lot_id, Hold.lifted_at.is_(None))
    good = func.coalesce(Lot.good_until, Certificate.expires_at, type_=Certificate.expires_at.type)
    found = select(*(getattr(Certificate, name) for name in CERTIFICATE), good, held).join(
        Lot, Lot.certificate_serial == Certificate.serial, isouter=True
    )
    return found if lot_id is None else found.where(Certificate.lot_id == lot_id)


def certificate_shape(row: Sequence[Any], now: datetime, public_url: str) -> dict[str, Any]:
    """A certificate as answered, with the status that it has at `now`."""
    *columns, good_until, held = row
    shown = dict(zip(CERTIFICATE, columns, strict=True))
    good_until = min(good_until, shown["expires_at"])
    status = status_of(shown["status"], good_until, now, held=held)
    check_url = f"{public_url}/c/{shown['serial']}"
    return {**shown, "status": status, "good_until": good_until, "check_url": check_url}


def certificate_view(session: Session, serial: str, now: datetime, public_url: str) -> dict[str, Any]:
    """One certificate as answered; raises NotFound."""
    row = session.execute(certificates().where(Certificate.serial == serial)).one_or_none()
    if row is None:
        raise NotFound("certificate")
    return certificate_shape(row, now, public_url)


def public_view(session: Session, serial: str, now: datetime) -> dict[str, Any] | None:
    """What anybody may know of a certificate, None when there is none of this serial."""
    row = session.execute(certificates().where(Certificate.serial == serial)).one_or_none()
    if row is None:
        return None
    shown = certificate_shape(row, now, "")
    said = claims_of(shown["jws"])
    public = (
        "serial",
        "status",
        "lot_code",
        "quantity",
        "unit_of_sale",
        "issued_at",
        "expires_at",
        "jws",
        "superseded_by",
    )
    told = ("scientific_name", "issuer", "looked_for", "statement")
    ended = shown["good_until"] if shown["status"] == "expired" else shown["ended_at"]
    return {
        **{name: shown[name] for name in public},
        **{name: said[name] for name in told},
        "since": ended or shown["issued_at"],
    }


def certificate_by_serial(session: Session, serial: str, *, lock: bool = False) -> Certificate:
    """One certificate; raises NotFound."""
    wanted = select(Certificate).where(Certificate.serial == serial)
    if lock:
        wanted = wanted.with_for_update().execution_options(populate_existing=True)
    found = session.scalars(wanted).one_or_none()
    if found is None:
        raise NotFound("certificate")
    return found


def living_certificate(session: Session, lot_id: str) -> Certificate | None:
    """The one valid certificate of a lot (not those of parcels), locked."""
    wanted = living(lot_id).where(Certificate.dispatch_id.is_(None))
    return session.scalars(wanted).one_or_none()


def living(lot_id: str) -> Select[Certificate]:
    """The valid certificates of a lot and of its parcels, to be locked in order of id."""
    wanted = select(Certificate).where(Certificate.lot_id == lot_id, Certificate.status == "valid")
    return wanted.order_by(Certificate.id).with_for_update()


def certificates_differ(session: Session) -> list[str]:
    """Codes of cleared lots without exactly the valid certificate that they name; the nightly check."""
    named = and_(
        Certificate.lot_id == Lot.id,
        Certificate.serial == Lot.certificate_serial,
        Certificate.status == "valid",
    )
    wanted = select(Lot.code).where(Lot.state == State.CLEARED.value, ~exists().where(named))
    return list(session.scalars(wanted.order_by(Lot.code)))


def _facts(
    session: Session, known: Evidence, at: datetime, rules: reference.Policy, free: Sequence[Freedom]
) -> GateFacts:
    lot, treatments = known.lot, known.treatments
    started = known.projection.clock_started_at
    return GateFacts(
        projection=known.projection,
        wait=known.wait,
        finished_protocols=[_name(t) for t in treatments if t.state == TreatmentState.FINISHED],
        open_protocols=[_name(t) for t in treatments if t.state in ACTIVE],
        clean_looks=sum(started is not None and look >= started for look in known.counted),
        residue=ResidueFacts(
            lingering_since=lingering_since(lot, treatments),
            clings=clinging(residue_of_lot(session, lot.id, at)),
            full_changes=rules.residue.full_changes,
            over=timedelta(days=rules.residue.over_days),
            copper_mg_per_l=rules.residue.copper_mg_per_l,
        ),
        washed=washed(session, known.stays, at),
        hold_causes=hold_causes(session, lot.id),
        regulated_lock=lot.regulated_lock,
        left=lot.left,
        health=health(session, lot, at, rules.health),
        listed=listed(session, lot),
        freedoms=free,
        freedom_target=rules.freedom.target,
    )


def _name(fact: TreatmentFact) -> str:
    return f"{fact.protocol_code} {fact.number}"
