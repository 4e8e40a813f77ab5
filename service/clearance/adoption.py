"""Taking clearance policies over from the reference data: a version that is there never changes."""

from dataclasses import asdict

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.journal.actions import record
from service.journal.acts import Act
from service.journal.rules import plain
from service.quarantine.models import Policy
from service.reference.loader import Reference


def adopt_policies(session: Session, act: Act, reference: Reference) -> int:
    """Add every policy version that is not there yet; gives how many."""
    known = {(code, number) for code, number in session.execute(select(Policy.code, Policy.number))}
    new = [written for written in reference.policies.values() if (written.code, written.version) not in known]
    for written in new:
        policy = Policy(
            code=written.code,
            number=written.version,
            content=plain(asdict(written)),
            reference_version=reference.version,
            created_at=act.now,
        )
        session.add(policy)
        record(
            session, act, "policy.adopted", [policy], after={"code": written.code, "version": written.version}
        )
    return len(new)
