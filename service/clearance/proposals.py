"""Reading what the first of two people proposed."""

from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.clearance.models import ClearanceProposal


def open_proposal(session: Session, lot_id: str) -> ClearanceProposal | None:
    """What the first of two people proposed for a locked lot, if nobody has confirmed it yet."""
    wanted = select(ClearanceProposal).where(
        ClearanceProposal.lot_id == lot_id, ClearanceProposal.outcome.is_(None)
    )
    return session.scalars(wanted.with_for_update()).one_or_none()


def proposal_shape(found: ClearanceProposal) -> dict[str, Any]:
    """A proposal as answered."""
    overrides = [{"gate": given["gate"], "reason": given["reason"]} for given in found.overrides]
    return {
        "id": found.id,
        "lot_id": found.lot_id,
        "policy": found.policy,
        "proposed_at": found.at,
        "proposed_by": found.by,
        "overrides": overrides,
    }
