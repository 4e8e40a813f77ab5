"""What each supplier's record makes the gates expect of his next lot: the very prior they are judged by."""

from collections.abc import Iterable
from dataclasses import asdict
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.catalogue.models import Supplier
from service.inspections.queries import pests
from service.quarantine.queries import figures, policy
from service.quarantine.records import records
from service.quarantine.rules_prior import Prior, Record, prior_of
from service.reference.policies import Policy


def priors(session: Session, suppliers: Iterable[str], now: datetime) -> dict[str, list[dict[str, Any]]]:
    """By name: for each pest of the standard policy and each that ever came, the prior as of now."""
    rules = figures(policy(session))
    judged = set(pests(session).resetting)
    wanted = select(Supplier.name, Supplier.id).where(Supplier.name.in_(suppliers))
    return {
        name: _rows(rules, judged, records(session, supplier_id, until=now, at=now))
        for name, supplier_id in session.execute(wanted).all()
    }


def _rows(rules: Policy, judged: set[str], found: dict[str, Record]) -> list[dict[str, Any]]:
    came = sorted(pest for pest, record in found.items() if record.infested > 0 and pest in judged)
    asked = dict.fromkeys([*rules.scope.pests, *came])
    base = rules.freedom.prior_alpha, rules.freedom.prior_beta
    return [_row(pest, found[pest], prior_of(*base, found[pest])) for pest in asked if pest in found]


def _row(pest: str, record: Record, prior: Prior) -> dict[str, Any]:
    return {
        "pest": pest,
        "lots": record.lots,
        "infested": record.infested,
        "clean_counts": prior.clean_counts,
        "alpha": prior.alpha,
        "beta": prior.beta,
        "share": asdict(prior.share),
        "expected_units": prior.expected_units,
    }
