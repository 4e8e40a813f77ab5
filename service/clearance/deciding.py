"""The decision that a lot may be sold: by one person, or proposed by one and confirmed by another."""

from collections.abc import Sequence
from dataclasses import asdict
from datetime import timedelta

from sqlalchemy.orm import Session

from service.accounts.queries import same_person
from service.clearance import rules
from service.clearance.issuing import certificate_for
from service.clearance.judging import Judged, judge
from service.clearance.models import Certificate, Clearance, ClearanceInputs, ClearanceProposal
from service.clearance.proposals import open_proposal
from service.clearance.rules_decision import (
    Override,
    override_reasons,
    second_person_reasons,
    still_shut,
    used,
)
from service.clearance.rules_status import good_until, speaking
from service.core.errors import Invalid, Refused
from service.core.values import written
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.journal.rules import digest, plain
from service.lots.actions import set_state
from service.lots.models import Lot
from service.lots.rules import State, allowed_moves, transition_reasons
from service.quarantine.models import Policy
from service.quarantine.queries import figures


def clear(
    session: Session, act: Act, lot: Lot, policy: Policy, overrides: Sequence[Override] = ()
) -> Certificate | ClearanceProposal:
    """Clear a locked lot and issue its certificate; under a four-eyes policy the first of two proposes it.

    Whoever confirms takes over what the first overrode. Raises Refused naming every gate that is shut and
    not overridden, or that somebody else must confirm; Invalid for an override that cannot be.
    """
    state = State(lot.state)
    refused = {"current_state": state.value, "allowed": allowed_moves(state)}
    Refused.unless_empty("transition-not-allowed", transition_reasons(state, State.CLEARED), **refused)
    not_before(act.at, lot.state_since, "its quarantine")
    found = judge(session, lot, act.at, policy)
    _check(overrides, found)
    first = _first(session, lot, policy)
    given = [*overrides, *_of(first, {override.gate for override in overrides})]
    Refused.unless_empty("gates-not-met", rules.failing(still_shut(found.gates, given)), **refused)
    needed = used(given, found.gates)
    if figures(policy).statement.four_eyes:
        if first is None:
            return _propose(session, act, lot, policy, needed)
        not_before(act.at, first.at, "the proposal")
        reasons = second_person_reasons(same_person=same_person(session, first.by, act.by))
        Refused.unless_empty("second-person-needed", reasons, **refused)
    return _clear(session, act, found, needed, first)


def _check(overrides: Sequence[Override], found: Judged) -> None:
    reasons = override_reasons(overrides, found.gates)
    if reasons:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)


def _first(session: Session, lot: Lot, policy: Policy) -> ClearanceProposal | None:
    """The open proposal under this policy; one under another is overtaken."""
    found = open_proposal(session, lot.id)
    if found is None or (found.policy == policy.code and found.at >= lot.state_since):
        return found
    found.outcome = "overtaken"
    session.flush()
    return None


def _of(first: ClearanceProposal | None, given: set[str]) -> list[Override]:
    kept = [] if first is None else [Override(**override) for override in first.overrides]
    return [override for override in kept if override.gate not in given]


def _propose(
    session: Session, act: Act, lot: Lot, policy: Policy, overrides: Sequence[Override]
) -> ClearanceProposal:
    proposal = ClearanceProposal(
        lot_id=lot.id,
        at=act.at,
        recorded_at=act.now,
        by=act.by,
        policy=policy.code,
        overrides=plain([asdict(override) for override in overrides]),
    )
    session.add(proposal)
    after = {"policy": policy.code, "policy_version": policy.number, "overrides": proposal.overrides}
    record(session, act, "clearance.proposed", [lot], after=after)
    session.flush()
    return proposal


def _clear(
    session: Session,
    act: Act,
    found: Judged,
    overrides: Sequence[Override],
    first: ClearanceProposal | None,
) -> Certificate:
    lot = found.evidence.lot
    clearance = _decided(session, act, found, overrides, first)
    certificate = certificate_for(session, act, found, clearance)
    again = timedelta(days=figures(found.policy).looks.again_after_days)
    looks = speaking(found.evidence.counted, clearance.overrides, act.at)
    set_state(
        session,
        act,
        lot,
        State.CLEARED,
        why="Every gate holds." if not overrides else "An owner overrode what was shut.",
        certificate_serial=certificate.serial,
        good_until=good_until(certificate.expires_at, looks, act.at, again),
    )
    return certificate


def _decided(
    session: Session,
    act: Act,
    found: Judged,
    overrides: Sequence[Override],
    first: ClearanceProposal | None,
) -> Clearance:
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
        reference_version=found.inputs.figures_version,
        overrides=plain([asdict(override) for override in overrides]),
        proposed_by=None if first is None else first.by,
    )
    session.add(clearance)
    session.flush()
    inputs = written(found.inputs)
    session.add(ClearanceInputs(clearance_id=clearance.id, content=inputs))
    if first is not None:
        first.outcome = "confirmed"
    after = {
        "policy": policy.code,
        "policy_version": policy.number,
        "gates": clearance.gates,
        "overrides": clearance.overrides,
        "proposed_by": clearance.proposed_by,
        "clearance_id": clearance.id,
        "inputs_sha256": digest(inputs),
    }
    record(session, act, "clearance.decided", [lot], after=after)
    return clearance
