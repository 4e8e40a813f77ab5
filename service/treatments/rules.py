"""What a treatment may do next, and what it is credited with; plain values only."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any

from service.core.reasons import Reason


class State(StrEnum):
    """States of a treatment."""

    PLANNED = "planned"
    RUNNING = "running"
    FINISHED = "finished"
    ABANDONED = "abandoned"


class StepState(StrEnum):
    """States of a step."""

    OPEN = "open"
    RUNNING = "running"
    DONE = "done"


ACTIVE = frozenset({State.PLANNED, State.RUNNING})
TREATABLE = frozenset({"received", "in_quarantine"})
TRANSITIONS: Mapping[State, frozenset[State]] = {
    State.PLANNED: frozenset({State.RUNNING, State.ABANDONED}),
    State.RUNNING: frozenset({State.FINISHED, State.ABANDONED}),
    State.FINISHED: frozenset(),
    State.ABANDONED: frozenset(),
}
SCOPE = ("bladder_snail", "ramshorn_snail", "pond_snail")
CREDITED_GRADES = frozenset({"A", "B"})
RELIABLE = 0.95  # share killed that counts as reliable; assumption
DOSE_APART = timedelta(hours=48)  # doses closer than this count as one; assumption


@dataclass(frozen=True)
class StepFact:
    """What happened to one step."""

    n: int
    kind: str
    started_at: datetime | None
    finished_at: datetime | None
    departure: str | None = None


@dataclass(frozen=True)
class DoseFact:
    """The maintained substance after a dose of a course, by calculation, in mg/L."""

    at: datetime
    mg_per_l: float


@dataclass(frozen=True)
class TreatmentFact:
    """A treatment as the rooms above judge it; `measured` are (moment, mg/L) of its maintained substance."""

    treatment_id: str
    method: str
    protocol_code: str
    number: int
    content: Mapping[str, Any]
    state: str
    started_at: datetime | None
    ended_at: datetime | None
    departures: tuple[str, ...] = ()
    steps: tuple[StepFact, ...] = ()
    doses: tuple[DoseFact, ...] = ()
    measured: tuple[tuple[datetime, float], ...] = ()


@dataclass(frozen=True)
class Step:
    """A step as the moves see it."""

    n: int
    kind: str
    state: str


def allowed_moves(state: State) -> list[str]:
    """The states a treatment can still come to."""
    return sorted(TRANSITIONS[state])


def start_reasons(state: State, steps: Sequence[Step], n: int) -> list[Reason]:
    """Why step `n` may not start: steps go in their order, one at a time."""
    if state not in ACTIVE:
        return [_over(state)]
    own = steps[n - 1]
    if own.state != StepState.OPEN:
        return [Reason("step-started", f"Step {n} has been started already.", have=own.state)]
    return [
        Reason("step-order", f"Step {step.n} ({step.kind}) must be done first.", "done", step.state)
        for step in steps[: n - 1]
        if step.state != StepState.DONE
    ]


def step_finish_reasons(state: State, step: Step) -> list[Reason]:
    """Why a step may not be finished."""
    if state not in ACTIVE:
        return [_over(state)]
    if step.state == StepState.RUNNING:
        return []
    return [Reason("step-not-running", f"Step {step.n} is not running.", StepState.RUNNING, step.state)]


def finish_reasons(state: State, steps: Sequence[Step]) -> list[Reason]:
    """Why a treatment is not finished yet."""
    if state not in ACTIVE:
        return [_over(state)]
    return [
        Reason("step-open", f"Step {step.n} ({step.kind}) is not done.", StepState.DONE, step.state)
        for step in steps
        if step.state != StepState.DONE
    ]


def abandon_reasons(state: State) -> list[Reason]:
    """Why a treatment can't be abandoned."""
    return [] if state in ACTIVE else [_over(state)]


def _over(state: State) -> Reason:
    return Reason("treatment-over", f"This treatment is {state}.", have=state.value)


def state_reasons(code: str, state: str) -> list[Reason]:
    """Why a lot in this state can't be treated."""
    if state in TREATABLE:
        return []
    if state == "in_treatment":
        return [Reason("already-in-treatment", f"Lot {code} is in treatment already.", have=state)]
    return [Reason("not-treatable", f"A lot that is {state} can't be treated ({code}).", have=state)]


def fit_reasons(
    code: str, method: str, level: str, *, overridden: bool, trial_stems: bool, chemical: bool
) -> list[Reason]:
    """Why a method does not fit a plant: `avoid` needs an owner's override, doubt needs trial stems."""
    if level == "avoid" and not overridden:
        detail = f"Lot {code}: this plant must not get {method}; an owner may override it with a reason."
        return [Reason("plant-avoids-method", detail, needed="override_reason of an owner", have=level)]
    if level in {"caution", "unknown"} and chemical and not trial_stems:
        detail = (
            f"Lot {code}: how this plant takes {method} is in doubt ({level}); try a few stems first and say "
            "in trial_stems_reason how they did, or what stands in for them."
        )
        return [Reason("trial-stems-needed", detail, needed="trial_stems_reason", have=level)]
    return []


def wool_reasons(code: str, *, kept_in_wool: bool, avoid_wool: bool) -> list[Reason]:
    """Plants kept in wool get neither bleach nor copper: the wool holds it."""
    if not (kept_in_wool and avoid_wool):
        return []
    detail = f"Lot {code} is kept in wool, which holds the chemical: take it off first, or choose another."
    return [Reason("kept-in-wool", detail)]


def departs(duration: Mapping[str, Any], elapsed: timedelta) -> bool:
    """Whether a step lasted less than its least or more than its most time."""
    return not duration["min_s"] <= elapsed.total_seconds() <= duration["max_s"]


def due_at(duration: Mapping[str, Any], started_at: datetime) -> datetime:
    """When a step should end."""
    return started_at + timedelta(seconds=duration["target_s"])


def substances(content: Mapping[str, Any], of_material: Mapping[str, str]) -> list[tuple[str, str | None]]:
    """(kind, substance put into the water) of every step; `of_material`: the substance by material code."""
    return [(step["kind"], of_material.get(step.get("material") or "")) for step in content["steps"]]


def adults_credited_at(
    fact: TreatmentFact,
    *,
    pests: Collection[str] = SCOPE,
    grades: Collection[str] = CREDITED_GRADES,
) -> datetime | None:
    """When the adults of `pests` count as dead, None when they do not.

    Needs a kill of at least 95 % on these grades of evidence for every pest. A dip or soak: the end of its
    last killing step, all of them kept within their limits. A course: the dose its protocol names (doses
    under 48 h apart count as one), or later the first reading of its water at target.
    """
    if not _kills_adults(fact.content, pests, grades):
        return None
    after = fact.content.get("adults_credited_after")
    if after is not None:
        return _course_credited_at(fact, after)
    steps = _killing_steps(fact)
    if not steps or any(step.finished_at is None or step.departure for step in steps):
        return None
    return max(step.finished_at for step in steps if step.finished_at)


def adult_step_ended_at(
    fact: TreatmentFact,
    *,
    pests: Collection[str] = SCOPE,
    grades: Collection[str] = CREDITED_GRADES,
) -> datetime | None:
    """The end of the last step that kills adults, credited or not; None when none has ended.

    A course that is credited while it runs (for these pests and grades) counts from there, so that no second
    wait follows it.
    """
    if fact.content.get("adults_credited_after") is not None:
        credited = adults_credited_at(fact, pests=pests, grades=grades)
        if credited is not None:
            return credited
    ends = [step.finished_at for step in _killing_steps(fact) if step.finished_at]
    return max(ends, default=None)


def soaks(fact: TreatmentFact) -> list[tuple[datetime, datetime]]:
    """The spans in which degree-days count half: chemical soaks; one that runs ends as planned."""
    if not fact.content.get("soak_counts_half"):
        return []
    written = {step["n"]: step for step in fact.content["steps"]}
    return [
        (step.started_at, step.finished_at or due_at(written[step.n]["duration"], step.started_at))
        for step in fact.steps
        if step.kind == "soak" and step.started_at is not None
    ]


def _kills_adults(content: Mapping[str, Any], pests: Collection[str], grades: Collection[str]) -> bool:
    killed = {
        credit["pest"]
        for credit in content["credits"]
        if credit["stage"] == "adult" and credit["grade"] in grades and credit["kill"] >= RELIABLE
    }
    return set(pests) <= killed


def _killing_steps(fact: TreatmentFact) -> list[StepFact]:
    killing = {step["n"] for step in fact.content["steps"] if step.get("kills_adults")}
    return [step for step in fact.steps if step.n in killing]


def _course_credited_at(fact: TreatmentFact, after: Mapping[str, Any]) -> datetime | None:
    target = fact.content["maintained_dose"]["value"]
    least = after["measured_share_of_target"] * target * (1 - 1e-9)  # 0.36 is 0.9 of 0.4, in floats as well
    counted = _doses_apart(fact.doses, least)
    if len(counted) < after["dose"]:
        return None
    dosed_at = counted[after["dose"] - 1].at
    end = fact.ended_at
    readings = sorted(
        at
        for at, mg_per_l in fact.measured
        if mg_per_l >= least and at >= counted[0].at and (end is None or at <= end)
    )
    return max(dosed_at, readings[0]) if readings else None


def _doses_apart(doses: Sequence[DoseFact], least_mg_per_l: float) -> list[DoseFact]:
    counted: list[DoseFact] = []
    for dose in sorted(doses, key=lambda dose: dose.at):
        enough = dose.mg_per_l >= least_mg_per_l
        if enough and (not counted or dose.at - counted[-1].at >= DOSE_APART):
            counted.append(dose)
    return counted
