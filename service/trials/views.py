"""A trial as answered: its layout, schedule and what its layout cannot give."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from service.core.reasons import Reason
from service.protocols.queries import version_by_id
from service.trials import queries, rules
from service.trials.models import Trial, TrialAdoption, TrialArm
from service.trials.queries import TRIAL, Layout, trial_shape
from service.trials.rules_conditions import SCALE


def trial_view(session: Session, trial: Trial, now: datetime, *, knows: bool) -> dict[str, Any]:
    """One trial; who does not know (`knows`) sees no arm of a tub while a blind trial is open."""
    layout = queries.layout_of(session, trial.id)
    shown = trial_shape([getattr(trial, name) for name in TRIAL])
    tells = knows or is_told(trial)
    codes, lots = queries.tub_codes(session, layout), queries.named_units(session, layout)
    scheduled = queries.schedule_of(trial, queries.observations_of(session, trial.id), now)
    needed = units_needed(trial, layout)
    return {
        **shown,
        "seed": trial.seed if tells else None,
        "arms": [arm_view(session, arm) for arm in layout.arms],
        "tubs": [
            {
                "label": tub.label,
                "tub_id": tub.tub_id,
                "tub_code": codes[tub.tub_id],
                "arm": layout.arm_of(tub).code if tells else None,
            }
            for tub in layout.tubs
        ],
        "units": [
            {
                "label": unit.label,
                "tub": layout.tub_of(unit).label,
                "lot_id": unit.lot_id,
                "lot_code": lots[unit.lot_id]["code"],
                "plant": lots[unit.lot_id]["plant"],
                "source_lot_id": unit.source_lot_id,
                "source_number": unit.source_number,
            }
            for unit in layout.units
        ],
        "schedule": [vars(look) for look in scheduled],
        "units_needed": needed,
        "warnings": [{"code": one.code, "detail": one.detail} for one in warnings(trial, layout)],
        "score_words": " ".join(f"{score}: {words}." for score, words in SCALE.items()),
    }


def is_told(trial: Trial) -> bool:
    """Whether everybody may know which tub is of which arm."""
    return not trial.blind or trial.closed_at is not None


def arm_view(session: Session, arm: TrialArm) -> dict[str, Any]:
    """An arm as answered."""
    if arm.protocol_version_id is None:
        return {"code": arm.code, "control": True, "protocol": None, "version": None}
    protocol, version = version_by_id(session, arm.protocol_version_id)
    return {"code": arm.code, "control": False, "protocol": protocol.code, "version": version.number}


def adoption_view(session: Session, adoption: TrialAdoption) -> dict[str, Any]:
    """What was learnt, as answered."""
    written = adoption.protocol_version_id
    protocol, version = (None, None) if written is None else version_by_id(session, written)
    arm = session.get_one(TrialArm, adoption.arm_id)
    same = ("id", "trial_id", "at", "by", "reason", "credits", "tolerances", "development")
    return {
        **{name: getattr(adoption, name) for name in same},
        "arm": arm.code,
        "protocol": None if protocol is None else protocol.code,
        "version": None if version is None else version.number,
    }


def units_needed(trial: Trial, layout: Layout) -> int | None:
    """Units an arm needs by the power asked for, over all its plants; None when nobody asked."""
    told: Mapping[str, Any] | None = trial.power
    if told is None:
        return None
    units, tubs = len(layout.units) // len(layout.arms), len(layout.tubs) // len(layout.arms)
    return rules.units_needed(rules.Power(**told), -(-units // tubs))


def warnings(trial: Trial, layout: Layout) -> list[Reason]:
    """What the layout of a trial cannot give."""
    return rules.plan_warnings(
        controls=sum(arm.protocol_version_id is None for arm in layout.arms),
        tubs_per_arm=len(layout.tubs) // len(layout.arms),
        needed=units_needed(trial, layout),
        units=len(layout.units) // len(layout.arms),
        blind=trial.blind,
    )
