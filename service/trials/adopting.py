"""Learning from a trial with one approval: a new version of a protocol, and a plant's tolerance."""

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.catalogue.actions import set_tolerance
from service.catalogue.queries import plant_by_id, tolerance_level
from service.catalogue.rules import Level, Method
from service.core.errors import Invalid, Refused
from service.inspections.queries import pests
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.protocols.actions import add_version
from service.protocols.models import Protocol, ProtocolVersion
from service.protocols.queries import latest_number, protocol_by_code, protocol_version, version_by_id
from service.trials import rules_learning, rules_plants
from service.trials.adopting_figures import OWN_TRIAL, learn_development
from service.trials.gathering import Result, result_of
from service.trials.models import Trial, TrialAdoption, TrialArm
from service.trials.queries import Layout
from service.trials.rules_learning import Learnt

TRIED = ("steps", "maintained_dose", "water_change", "target", "substance")
HEADER = ("code", "version", "method")


def adopt(session: Session, act: Act, found: tuple[Trial, Layout], facts: Mapping[str, Any]) -> TrialAdoption:
    """Take over what one arm of a locked trial showed; old versions and lots treated by them stay.

    Raises Refused with every reason, Invalid for an arm, pest or plant that the trial does not have.
    """
    trial, layout = found
    arm = next((one for one in layout.arms if one.code == facts["arm"]), None)
    if arm is None:
        raise Invalid.at("#/arm", "There is no such arm in this trial.", code="unknown-arm")
    result = result_of(session, trial, act.now)
    not_before(act.at, max([trial.starts_at, *(one.at for one in result.observations)]), "what was observed")
    only_eggs = bool(facts["development"]) and not facts["stages"] and not facts["tolerances"]
    _may_adopt(session, trial, arm, result, only_eggs=only_eggs)
    credits = credits_of(session, result, arm, facts["stages"])
    version = _next_version(session, act, arm, credits) if credits else None
    adoption = TrialAdoption(
        trial_id=trial.id,
        arm_id=arm.id,
        at=act.at,
        by=act.by,
        reason=facts["reason"],
        protocol_version_id=None if version is None else version.id,
        credits=[_credit_view(one) for one in credits],
        tolerances=_tolerances(session, act, result, arm, facts["tolerances"]),
        development=learn_development(session, act, result, facts["development"]),
    )
    session.add(adoption)
    session.flush()
    learnt = ("credits", "tolerances", "development")
    after = {"arm": arm.code, **{name: getattr(adoption, name) for name in learnt}}
    record(session, act, "trial.adopted", [trial], after={**after, "reason": facts["reason"]})
    return adoption


def _may_adopt(session: Session, trial: Trial, arm: TrialArm, result: Result, *, only_eggs: bool) -> None:
    twice = select(TrialAdoption.id).where(TrialAdoption.trial_id == trial.id, TrialAdoption.arm_id == arm.id)
    control = arm.protocol_version_id is None
    reasons = rules_learning.adoption_reasons(
        control=control and not only_eggs,
        adopted=session.scalar(twice) is not None,
        same_steps=control or _same_steps(session, arm),
        observed=control
        or any(
            kill.corrected for stage in result.stages for kill in stage.kills if kill.count.arm == arm.code
        )
        or any(one.plants.arm == arm.code for one in result.plants),
        blind=trial.blind,
        closed=trial.closed_at is not None,
    )
    Refused.unless_empty(reasons[0].code if reasons else "", reasons)


def _same_steps(session: Session, arm: TrialArm) -> bool:
    _, newest, tried = _versions(session, arm)
    return all(newest.content.get(name) == tried.content.get(name) for name in TRIED)


def _versions(session: Session, arm: TrialArm) -> tuple[Protocol, ProtocolVersion, ProtocolVersion]:
    """The arm's protocol, its newest version, and the one that was tried."""
    protocol, tried = version_by_id(session, str(arm.protocol_version_id))
    _, newest = protocol_version(session, protocol.code, latest_number(session, protocol))
    return protocol, newest, tried


def credits_of(
    session: Session, result: Result, arm: TrialArm, asked: Sequence[Mapping[str, Any]] | None
) -> list[Learnt]:
    """What an arm's result would credit, for the stages asked for or all that can be credited.

    Pests that the law wants to hear of are never credited. Raises Invalid for a stage not shown.
    """
    if arm.protocol_version_id is None:
        return []
    _, newest, _ = _versions(session, arm)
    notifiable = pests(session).notifiable
    found = []
    for place, target in enumerate(result.trial.targets if asked is None else asked):
        one = None
        if target["pest"] not in notifiable:
            one = _learnt(result, arm, target, old_credit(newest.content, target))
        if one is not None:
            found.append(one)
        elif asked is not None:
            detail = "The trial shows nothing of this that could be credited."
            raise Invalid.at(f"#/stages/{place}", detail, code="not-shown")
    return found


def _learnt(
    result: Result, arm: TrialArm, target: Mapping[str, Any], old: Mapping[str, Any] | None
) -> Learnt | None:
    shown = result.kill_of(arm.code, target["pest"], target["stage"])
    if shown is None:
        return None
    stage, kill = shown
    control = next((one.count for one in stage.kills if one.count.control), None)
    units, tubs = (0, 0) if control is None else (control.before, len(control.tallies))
    grade = rules_learning.trial_grade(kill, units, tubs, blind=result.blind)
    source = (
        f"Own trial {result.trial.name}, {result.trial.starts_at:%Y-%m-%d}: {kill.count.after} of "
        f"{kill.count.before} left"
        + ("" if control is None else f", control {control.after} of {control.before}")
    )
    return rules_learning.learnt(target["pest"], target["stage"], kill, old, grade=grade, source=source)


def old_credit(content: Mapping[str, Any], target: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """What a version credits a pest's stage with; None when it says nothing."""
    wanted = (target["pest"], target["stage"])
    found: list[Mapping[str, Any]] = [
        one for one in content["credits"] if (one["pest"], one["stage"]) == wanted
    ]
    return found[0] if found else None


def _next_version(session: Session, act: Act, arm: TrialArm, credits: Sequence[Learnt]) -> ProtocolVersion:
    protocol, newest, _ = _versions(session, arm)
    locked = protocol_by_code(session, protocol.code, lock=True)
    content = {name: value for name, value in newest.content.items() if name not in HEADER}
    course = content.get("maintained_dose") is not None
    learnt = {(one.pest, one.stage): one for one in credits}
    kept = [one for one in content["credits"] if (one["pest"], one["stage"]) not in learnt]
    new = [
        rules_learning.credit_document(
            one, old_credit(content, {"pest": one.pest, "stage": one.stage}), course=course
        )
        for one in credits
    ]
    return add_version(session, act, locked, {**content, "credits": [*kept, *new]})[1]


def _credit_view(one: Learnt) -> dict[str, Any]:
    return {
        "pest": one.pest,
        "stage": one.stage,
        "before": one.before,
        "kill": one.credit.kill,
        "low": one.interval.low,
        "high": one.interval.high,
        "grade": one.grade,
        "trial_grade": one.trial_grade,
        "source": one.source,
    }


def _tolerances(
    session: Session, act: Act, result: Result, arm: TrialArm, asked: Sequence[Mapping[str, Any]]
) -> list[dict[str, Any]]:
    """Set the tolerances asked for; another level than the trial's says so in its source."""
    if not asked:
        return []
    controls = {one.plants.plant_id: one for one in result.plants if one.plants.control}
    shown = {one.plants.plant_id: one for one in result.plants if one.plants.arm == arm.code}
    method = Method(version_by_id(session, str(arm.protocol_version_id))[0].method)
    found = []
    for place, row in enumerate(asked):
        own = shown.get(row["plant_id"])
        if own is None:
            detail = "The trial did not judge this plant in this arm."
            raise Invalid.at(f"#/tolerances/{place}/plant_id", detail, code="not-shown")
        said, why = rules_plants.tolerance_level(own, controls.get(row["plant_id"]))
        level = Level(row["level"] or said)
        plant = plant_by_id(session, row["plant_id"], lock=True)
        before = tolerance_level(session, plant.id, method.value)
        source = f"Own trial {result.trial.name}: {why}"
        source += "" if level == said else f" The trial says {said}."
        set_tolerance(session, act, plant, method, {"level": level, "grade": OWN_TRIAL, "source": source})
        found.append(
            {
                "plant_id": plant.id,
                "method": method.value,
                "before": before.value,
                "level": level.value,
                "why": why,
            }
        )
    return found
