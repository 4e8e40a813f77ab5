"""What a certificate says: the claims of the signed statement, which promise no more than was done."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.clearance.rules_animals import NOT_TESTED
from service.clearance.rules_page import LAYOUT
from service.clearance.rules_words import DECLARATION

NO_LIVE_PEST = "No live pest was found by the procedure named."
NOT_ASKED = "The grower who sent the plants was not asked what they were treated with."
SEALED = "Sealed cups: this statement is void when they are opened."
GIVEN_ASSUMPTIONS = (
    "The chance that none is left holds for the stated share never seen and the sensitivities of the named "
    "reference data; it is no guarantee."
)


@dataclass(frozen=True)
class Subject:
    """The plants that a statement is about."""

    lot_id: str
    lot_code: str
    scientific_name: str
    quantity: int
    unit_of_sale: str


@dataclass(frozen=True)
class Issue:
    """Who issues which number, from when until when, and where it can be checked."""

    serial: str
    issuer: str
    issuer_name: str
    issuer_address: str
    check_url: str
    issued_at: datetime
    expires_at: datetime


@dataclass(frozen=True)
class Procedure:
    """What was done: pests looked for, treatments, looks, and the versions of rules and figures used."""

    pests: Sequence[str]
    treatments: Sequence[Mapping[str, Any]]
    looks: Sequence[Mapping[str, Any]]
    clock_started_at: datetime | None
    policy: str
    policy_version: int
    rules_version: str
    reference_version: str
    chances: Sequence[Mapping[str, Any]]
    overrides: Sequence[Mapping[str, Any]]
    sentences: Sequence[str]
    animals: str = NOT_TESTED


def claims(issue: Issue, subject: Subject, procedure: Procedure) -> dict[str, Any]:
    """The claims of a statement (RFC 7519 names where there are any; times in seconds)."""
    return {
        **_registered(issue, subject),
        "layout": LAYOUT,
        "issuer": {"name": issue.issuer_name, "address": issue.issuer_address},
        "lot": subject.lot_code,
        "scientific_name": subject.scientific_name,
        "quantity": subject.quantity,
        "unit_of_sale": subject.unit_of_sale,
        "check_url": issue.check_url,
        "looked_for": list(procedure.pests),
        "treatments": list(procedure.treatments),
        "looks": list(procedure.looks),
        "last_water_contact": _text(procedure.clock_started_at),
        "policy": procedure.policy,
        "policy_version": procedure.policy_version,
        "rules_version": procedure.rules_version,
        "reference_version": procedure.reference_version,
        "chance_none_is_left": list(procedure.chances),
        "overrides": list(procedure.overrides),
        "statement": [
            DECLARATION,
            NO_LIVE_PEST,
            *(_overridden(override) for override in procedure.overrides),
            procedure.animals,
            GIVEN_ASSUMPTIONS,
            *procedure.sentences,
        ],
    }


def reissued(former: Mapping[str, Any], issue: Issue, subject: Subject) -> dict[str, Any]:
    """The claims of a former statement for a part of its plants, under a number of its own."""
    return {
        **former,
        **_registered(issue, subject),
        "layout": LAYOUT,
        "lot": subject.lot_code,
        "quantity": subject.quantity,
        "unit_of_sale": subject.unit_of_sale,
        "check_url": issue.check_url,
        "supersedes": former["jti"],
    }


def of_parcel(whole: Mapping[str, Any], issue: Issue, subject: Subject, sent_at: datetime) -> dict[str, Any]:
    """The claims for a customer's parcel out of a lot, under a number of its own; they name no customer."""
    part = {name: claim for name, claim in reissued(whole, issue, subject).items() if name != "supersedes"}
    return {**part, "parcel": {"of": whole["jti"], "sent_at": sent_at.isoformat()}}


def _registered(issue: Issue, subject: Subject) -> dict[str, Any]:
    issued = int(issue.issued_at.timestamp())
    return {
        "iss": issue.issuer,
        "jti": issue.serial,
        "sub": f"urn:uuid:{subject.lot_id}",
        "iat": issued,
        "nbf": issued,
        "exp": int(issue.expires_at.timestamp()),
    }


def _overridden(override: Mapping[str, Any]) -> str:
    return f"The owner cleared this lot although: {override['not_met']} Reason given: {override['reason']}"


def _text(moment: datetime | None) -> str | None:
    return None if moment is None else moment.isoformat()
