"""Reading clearance: policies, and certificates with the status they have today."""

from collections.abc import Sequence
from datetime import datetime
from functools import cache
from typing import Any

from sqlalchemy import Select, and_, exists, func, select
from sqlalchemy.orm import Session

from service.clearance.models import Certificate
from service.clearance.rules_status import status_of
from service.clearance.signing import claims_of
from service.core.errors import NotFound
from service.lots.models import Hold, Lot
from service.lots.rules import State
from service.quarantine.models import Policy

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


@cache
def certificates() -> Select[Any]:
    """Every certificate, each with until when its lot is good and whether that is on hold."""
    held = exists().where(Hold.lot_id == Certificate.lot_id, Hold.lifted_at.is_(None))
    good = func.coalesce(Lot.good_until, Certificate.expires_at, type_=Certificate.expires_at.type)
    return select(*(getattr(Certificate, name) for name in CERTIFICATE), good, held).join(
        Lot, Lot.certificate_serial == Certificate.serial, isouter=True
    )


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
