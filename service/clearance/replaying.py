"""Judging a decision again from what is kept with it, and showing whether the answer is the same."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from service.catalogue.queries import figures_version
from service.clearance.models import Clearance, ClearanceInputs
from service.clearance.queries import certificate_by_serial
from service.clearance.rules import RULES_VERSION, Gate
from service.clearance.rules_decision import Override, still_shut
from service.clearance.rules_replay import Compared, Inputs, compared, replay
from service.core.values import read, written
from service.journal.models import JournalEntry
from service.journal.queries import entries_about
from service.journal.rules import digest
from service.quarantine.queries import policy
from service.reference.loader import shipped

UNJUDGEABLE = (
    ArithmeticError,
    LookupError,
    StopIteration,
    TypeError,
    ValueError,
)  # what altered inputs raise


def replay_view(session: Session, serial: str) -> dict[str, Any]:
    """The decision behind a certificate as decided and as judged again, gate by gate; raises NotFound."""
    clearance = session.get_one(Clearance, certificate_by_serial(session, serial).clearance_id)
    return {
        "serial": serial,
        "lot_id": clearance.lot_id,
        "decided_at": clearance.at,
        **_outcome(session, clearance),
        "policy": clearance.policy,
        "policy_version": clearance.policy_version,
        "policy_version_now": policy(session, clearance.policy).number,
        "rules_version": clearance.rules_version,
        "rules_version_now": RULES_VERSION,
        "reference_version": clearance.reference_version,
        "reference_version_now": figures_version(session, shipped().version),
    }


def _outcome(session: Session, clearance: Clearance) -> dict[str, Any]:
    kept = session.get(ClearanceInputs, clearance.id)
    told = _recorded(session, clearance)
    if kept is None and told is None:
        return {"outcome": "not_kept", "cleared": None, "inputs_as_recorded": None, "gates": []}
    content = None if kept is None else kept.content
    again, recorded = _judged_again(content), digest(content) == told
    gates = compared(clearance.gates, written(again))
    overrides = [Override(**override) for override in clearance.overrides]
    cleared = bool(again) and not still_shut(again, overrides)
    same = recorded and cleared and all(gate.same for gate in gates)
    return {
        "outcome": "same" if same else "differs",
        "cleared": cleared,
        "inputs_as_recorded": recorded,
        "gates": [_shown(gate) for gate in gates],
    }


def _recorded(session: Session, clearance: Clearance) -> str | None:
    """The digest of the inputs in the journal, which nobody changes unseen; None before digests were kept."""
    wanted = entries_about("lot", clearance.lot_id).where(JournalEntry.kind == "clearance.decided")
    said: Sequence[Mapping[str, Any]] = [row.after for row in session.execute(wanted)]
    return next((after["inputs_sha256"] for after in said if after.get("clearance_id") == clearance.id), None)


def _judged_again(content: Any) -> list[Gate]:
    """The gates from kept inputs; none when what is kept is not what was written."""
    try:
        return replay(read(Inputs, content))
    except UNJUDGEABLE:
        return []


def _shown(gate: Compared) -> dict[str, Any]:
    return {"code": gate.code, "same": gate.same, "then": _gate(gate.then), "again": _gate(gate.again)}


def _gate(gate: Mapping[str, Any] | None) -> dict[str, Any] | None:
    if gate is None:
        return None
    return {**gate, "when": None if gate["when"] is None else datetime.fromisoformat(gate["when"])}
