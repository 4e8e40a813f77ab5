"""Judging the gates of a lot afresh, and what they were judged by."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy.orm import Session

from service.catalogue.queries import figures_version
from service.clearance.animals import soaked_since, tests_of
from service.clearance.plants import health, listed
from service.clearance.residue import lingering_since, washed
from service.clearance.rules import RULES_VERSION, Gate, gates
from service.clearance.rules_animals import counting
from service.clearance.rules_replay import Inputs, gate_facts
from service.clearance.rules_residue import ResidueFacts, clinging
from service.clearance.weather import weather
from service.lots.models import Lot
from service.lots.queries import hold_causes
from service.lots.rules import State
from service.quarantine.evidence import Evidence, evidence
from service.quarantine.freedom import asked_for
from service.quarantine.models import Policy
from service.quarantine.proposing import look_plan
from service.quarantine.queries import figures, release_day
from service.quarantine.rules_freedom import Freedom, Known, Suspect, freedoms_of, outlook_of
from service.reference import policies as reference
from service.reference.loader import shipped
from service.treatments.queries import residue_of_lot
from service.treatments.rules import ACTIVE, TreatmentFact
from service.treatments.rules import State as TreatmentState

Asked = tuple[Sequence[Suspect], Known] | None


@dataclass(frozen=True)
class Judged:
    """One lot under one policy: what is known, and every gate."""

    evidence: Evidence
    gates: list[Gate]
    policy: Policy
    freedoms: list[Freedom]
    inputs: Inputs

    @property
    def decidable(self) -> bool:
        """True when it could be cleared now."""
        return self.evidence.lot.state == State.IN_QUARANTINE and all(gate.ok for gate in self.gates)


def judge(session: Session, lot: Lot, at: datetime, policy: Policy) -> Judged:
    """Judge a lot afresh from facts, never from what is stored."""
    rules = figures(policy)
    known = evidence(session, [lot], at, rules)[lot.id]
    asked = asked_for(session, known, at, rules)
    free = [] if asked is None else freedoms_of(*asked)
    inputs = _inputs(session, known, at, rules, asked)
    found = gates(gate_facts(inputs, known.projection, free), at)
    return Judged(known, found, policy, free, inputs)


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
        "reference_version": found.inputs.figures_version,
        "computed_at": now,
        "gates": [asdict(gate) for gate in found.gates],
        "look_plan": look_plan(
            found.evidence, figures(found.policy), [at for at, _ in found.inputs.washed.changes]
        ),
        "explained": list(weather(session, found.evidence, now)),
    }


def _inputs(session: Session, known: Evidence, at: datetime, rules: reference.Policy, asked: Asked) -> Inputs:
    lot, treatments = known.lot, known.treatments
    return Inputs(
        at=at,
        clock=known.facts,
        wait=known.wait,
        log=known.log,
        counted=known.counted,
        nights=known.nights,
        repacked_at=lot.repacked_at,
        suspects=[] if asked is None else asked[0],
        seen=[] if asked is None else asked[1].looks,
        freedom_target=rules.freedom.target,
        finished_protocols=[_name(t) for t in treatments if t.state == TreatmentState.FINISHED],
        open_protocols=[_name(t) for t in treatments if t.state in ACTIVE],
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
        animals=counting(tests_of(session, lot), soaked_since(lot, treatments), at),
        figures_version=figures_version(session, shipped().version),
    )


def _name(fact: TreatmentFact) -> str:
    return f"{fact.protocol_code} {fact.number}"
