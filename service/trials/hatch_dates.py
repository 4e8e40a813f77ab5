"""Egg masses whose laying and hatching were seen, of every trial, and the thresholds they give."""

from collections.abc import Collection, Mapping
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.catalogue.queries import published_developments
from service.catalogue.rules import development
from service.core.reasons import Reason
from service.protocols.queries import version_by_id
from service.quarantine.queries import policies_in_force
from service.science.development import coverage
from service.trials import queries, rules
from service.trials.models import Trial, TrialObservation
from service.trials.queries import Layout
from service.trials.rules_development import COVERED, Fitted, Mass, development_reasons, fitted, warmth
from service.tubs.queries import readings

FLANK = timedelta(hours=30)  # a reading so long before may still speak for it


def fits(session: Session, trial: Trial) -> list[Fitted]:
    """T0 and K50 of the pests that a trial is about, from the masses of every trial."""
    published = published_developments(session)
    pests = dict.fromkeys(one["pest"] for one in trial.targets if one["stage"] == rules.Stage.EGG)
    optima = {pest: published[pest]["limits"]["optimum_c"] for pest in pests if published[pest]}
    seen = masses(session, optima)
    return [fitted(pest, seen[pest], optimum_c) for pest, optimum_c in optima.items() if seen[pest]]


def against(session: Session, found: Fitted) -> list[Reason]:
    """Everything against taking a fit over, by the published figures and the shortest wait of any policy."""
    published = development(found.pest, published_developments(session)[found.pest])
    factor = min(policy.hatch.factor_treated for policy in policies_in_force(session))
    return development_reasons(found, published, factor)


def masses(session: Session, pests: Collection[str]) -> dict[str, list[Mass]]:
    """The masses of these pests: one trial at one temperature gives no line."""
    rows = session.execute(
        select(TrialObservation.told, Trial)
        .join(Trial, Trial.id == TrialObservation.trial_id)
        .where(TrialObservation.voided_at.is_(None))
        .order_by(TrialObservation.at, TrialObservation.id)
    ).all()
    layouts: dict[str, Layout] = {}
    found: dict[str, list[Mass]] = {pest: [] for pest in pests}
    for told, trial in rows:
        for hatch in told["hatches"]:
            if hatch["pest"] in found:
                layout = layouts.setdefault(trial.id, queries.layout_of(session, trial.id))
                found[hatch["pest"]].append(_mass(session, trial, layout, hatch))
    return found


def _mass(session: Session, trial: Trial, layout: Layout, hatch: Mapping[str, Any]) -> Mass:
    units = {unit.label: layout.tub_of(unit) for unit in layout.units}
    tub = units.get(hatch["label"]) or next(tub for tub in layout.tubs if tub.label == hatch["label"])
    laid, hatched = (datetime.fromisoformat(hatch[name]) for name in ("laid_at", "hatched_at"))
    log = readings(session, tub.tub_id, laid - FLANK, hatched)
    known = laid >= trial.starts_at and coverage(log, laid, hatched).credited_share >= COVERED
    celsius, swing = warmth(log, laid, hatched) if known else (None, 0.0)
    version = layout.arm_of(tub).protocol_version_id
    treated = version is not None and version_by_id(session, version)[0].method != rules.UNTREATED
    return Mass(celsius, swing, (hatched - laid) / rules.DAY, trial.id, treated)
