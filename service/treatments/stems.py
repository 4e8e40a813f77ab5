"""Trying a method on a few stems of a lot, and judging them while the rest waits."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy.orm import Session

from service.core.errors import Invalid, Refused
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.lots.models import Lot
from service.lots.queries import lot_by_id
from service.protocols.queries import asked_version
from service.treatments import rules, rules_stems
from service.treatments.stem_models import StemJudgement, StemTrial
from service.treatments.stem_queries import tried


def try_stems(session: Session, act: Act, lot: Lot, facts: Mapping[str, Any]) -> StemTrial:
    """Enter that a protocol was tried on a few stems of a locked lot.

    What was poured for them is entered as stock used by a test. Raises Refused for a lot that is not
    waiting or is a single plant, Invalid for more than a tenth of it.
    """
    protocol, version = asked_version(session, facts)
    reasons = rules.state_reasons(lot.code, lot.state)
    Refused.unless_empty(reasons[0].code if reasons else "", reasons, current_state=lot.state)
    not_before(act.at, lot.received_at, "the lot's receipt")
    reasons = rules_stems.stems_reasons(facts["stems"], plants_in(lot))
    if reasons and reasons[0].pointer:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)
    Refused.unless_empty(reasons[0].code if reasons else "", reasons)
    trial = StemTrial(
        lot_id=lot.id,
        protocol_version_id=version.id,
        stems=facts["stems"],
        tried_at=act.at,
        note=facts["note"],
        recorded_at=act.now,
        by=act.by,
    )
    session.add(trial)
    session.flush()
    after = {"protocol": protocol.code, "version": version.number, "stems": trial.stems}
    record(session, act, "trial_stems.tried", [trial, lot], after=after)
    return trial


def judge_stems(session: Session, act: Act, trial: StemTrial, facts: Mapping[str, Any]) -> None:
    """Enter how many of the stems live; raises Invalid for a number that cannot be."""
    not_before(act.at, trial.tried_at, "their treatment")
    reasons = rules_stems.judgement_reasons(tried(session, trial), facts["alive"], act.at)
    if reasons:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)
    session.add(
        StemJudgement(
            stem_trial_id=trial.id,
            at=act.at,
            alive=facts["alive"],
            note=facts["note"],
            recorded_at=act.now,
            by=act.by,
        )
    )
    session.flush()
    after = {"alive": facts["alive"], "stems": trial.stems}
    record(session, act, "trial_stems.judged", [trial, lot_by_id(session, trial.lot_id)], after=after)


def plants_in(lot: Lot) -> int:
    """How many plants there are to try one of: stems of bunches where they are known, else units."""
    return lot.left * (lot.stems_per_bunch or 1)
