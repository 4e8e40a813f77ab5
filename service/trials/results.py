"""A trial's result as answered."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from decimal import Decimal
from typing import Any

from service.core.reasons import Reason
from service.science.proportions import Interval
from service.trials.gathering import Result
from service.trials.rules_development import Fitted
from service.trials.rules_hatch import Eye
from service.trials.rules_learning import GRADE_RULES
from service.trials.rules_methods import Method
from service.trials.rules_plants import Survived, tolerance_level
from service.trials.rules_result import CONFIDENCE, Compared, Kill, StageResult


def result_view(found: Result) -> dict[str, Any]:
    """The whole result."""
    controls = {one.plants.plant_id: one for one in found.plants if one.plants.control}
    return {
        "trial_id": found.trial.id,
        "question": found.trial.question,
        "closed": found.trial.closed_at is not None,
        "observations": len(found.observations),
        "confidence": CONFIDENCE,
        "verdict": list(found.verdict),
        "best": [{"of": stage, "arms": list(arms)} for stage, arms in found.best.items()],
        "cannot_say": list(found.limits),
        "kills": [row for stage in found.stages for row in kill_rows(stage)],
        "comparisons": [compared_view(stage, pair) for stage in found.stages for pair in stage.compared],
        "hatching": [
            {"arm": arm, "pest": pest, "points": [asdict(point) for point in points]}
            for arm, pest, points in found.hatching
            if points
        ],
        "plants": [plant_view(one, controls.get(one.plants.plant_id)) for one in found.plants],
        "methods": [method_view(one) for one in found.methods],
        "development": [fitted_view(one, found.against[one.pest]) for one in found.fits],
        "eyes": [eye_view(one) for one in found.eyes],
        "grade_rules": dict(GRADE_RULES),
    }


def fitted_view(one: Fitted, against: Sequence[Reason]) -> dict[str, Any]:
    """T0 and K50 of a pest's eggs, or why there are none; what speaks against taking them over."""
    return {
        "pest": one.pest,
        "masses": len(one.masses),
        "left_out": one.left_out,
        "fit": None if one.fit is None else asdict(one.fit),
        "why_not": one.why_not,
        "against_adoption": [reason.detail for reason in against],
    }


def eye_view(eye: Eye) -> dict[str, Any]:
    """How well one observer finds dummies."""
    same = ("observer", "hidden", "found")
    return {**{name: getattr(eye, name) for name in same}, "sensitivity": interval_view(eye.sensitivity)}


def kill_rows(stage: StageResult) -> list[dict[str, Any]]:
    """One row for each arm of a stage."""
    return [_kill(stage, kill) for kill in stage.kills]


def _kill(stage: StageResult, kill: Kill) -> dict[str, Any]:
    corrected = kill.corrected
    return {
        "pest": stage.pest,
        "stage": stage.stage,
        "arm": kill.count.arm,
        "control": kill.count.control,
        "tubs": len(kill.count.tallies),
        "before": kill.count.before,
        "after": kill.count.after,
        "unaccounted": kill.count.unaccounted,
        "read_on_day": max(tally.day for tally in kill.count.tallies),
        "kill": interval_view(kill.share),
        "kill_proved": kill.proved,
        "design_effect": kill.design_effect,
        "corrected_kill": None
        if corrected is None
        else {
            "estimate": corrected.efficacy,
            "low": None if corrected.interval is None else corrected.interval.low,
            "high": None if corrected.interval is None else corrected.interval.high,
        },
        "control_mortality": None if corrected is None else corrected.control_mortality,
        "control_sound": None if corrected is None else corrected.control_sound,
        "why_not": kill.why_not,
    }


def compared_view(stage: StageResult, pair: Compared) -> dict[str, Any]:
    """Two arms compared."""
    return {
        "pest": stage.pest,
        "stage": stage.stage,
        "first": pair.first,
        "second": pair.second,
        "difference": interval_view(pair.difference),
        "chance": pair.chance,
        "chance_by_holm": pair.corrected,
        "better": pair.better,
    }


def plant_view(one: Survived, control: Survived | None) -> dict[str, Any]:
    """How one plant fared in one arm, and what that says of its tolerance."""
    level, why = ("", "") if one.plants.control else tolerance_level(one, control)
    return {
        "plant_id": one.plants.plant_id,
        "plant": one.plants.plant,
        "arm": one.plants.arm,
        "units": len(one.plants.labels),
        "watched": one.watched,
        "dead": one.dead,
        "taken": one.taken,
        "survival": interval_view(one.survival),
        "curve": [
            {"day": int(step.days), "at_risk": step.at_risk, "dead": step.deaths, "alive": step.survival}
            for step in one.steps
        ],
        "against_control": None if one.against is None else asdict(one.against),
        "condition": [
            {"day": row.day, "grown": row.grown, "units": row.units, **row.means} for row in one.condition
        ],
        "tolerance": None if one.plants.control else {"level": level, "why": why},
    }


def method_view(one: Method) -> dict[str, Any]:
    """One method beside the others."""
    same = ("arm", "steps", "minutes", "minutes_per_unit", "lasts_days", "disposal")
    return {
        **{name: getattr(one, name) for name in same},
        "cost": _money(one, 1),
        "cost_per_unit": _money(one, one.units),
        "cautions": list(one.cautions),
        "protective_wear": list(one.protective_wear),
    }


def _money(one: Method, units: int) -> dict[str, str] | None:
    if one.cost_micro is None or one.currency is None:
        return None
    return {"value": f"{Decimal(one.cost_micro) / 1_000_000 / units:.4f}", "currency": one.currency}


def interval_view(found: Interval) -> dict[str, float]:
    """An estimate with its limits."""
    return {"estimate": found.estimate, "low": found.low, "high": found.high}


def csv_rows(found: Result) -> Sequence[Mapping[str, Any]]:
    """The result's rows for a file: kills, then plants."""
    view = result_view(found)
    plants = [
        {name: row[name] for name in ("plant", "arm", "units", "watched", "dead", "taken", "survival")}
        for row in view["plants"]
    ]
    kills = [{name: value for name, value in row.items() if name != "why_not"} for row in view["kills"]]
    return [*({"table": "kill", **row} for row in kills), *({"table": "plants", **row} for row in plants)]
