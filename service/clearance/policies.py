"""Writing policies: a new version stands beside the old ones, which never change."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.catalogue.queries import pest_figures
from service.clearance.rules_status import policy_reasons
from service.core.errors import Invalid
from service.journal.actions import record
from service.journal.acts import Act
from service.quarantine.models import Policy
from service.reference import policies as reference
from service.reference.problem import ReferenceProblem
from service.reference.shape import Place, read_table


def add_policy(session: Session, act: Act, body: Mapping[str, Any]) -> Policy:
    """Write the next version of a policy; raises Invalid naming the figure that cannot be."""
    number = (session.scalar(select(func.max(Policy.number)).where(Policy.code == body["code"])) or 0) + 1
    content = {**body, "version": number}
    try:
        found = read_table(reference.Policy, content, Place("policy", body["code"]))
    except ReferenceProblem as problem:
        detail = f"{problem.detail[:1].upper()}{problem.detail[1:]}."
        raise Invalid.at(f"#/{problem.field.replace('.', '/')}", detail) from problem
    reasons = policy_reasons(found, pest_figures(session))
    if reasons:
        raise Invalid("validation", "The figures of this policy cannot be used.", reasons)
    policy = Policy(
        code=found.code, number=number, content=content, reference_version=None, created_at=act.now
    )
    session.add(policy)
    record(session, act, "policy.version_added", [policy], after={"code": found.code, "version": number})
    return policy
