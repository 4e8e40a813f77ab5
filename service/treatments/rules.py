"""What a treatment may do next, and what it is credited with; plain values only."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum
from typing import Any

from service.core.reasons import Reason
from service.treatments.rules_credit import (
    DoseFact,
    StepFact,
    TreatmentFact,
    adult_step_ended_at,
    adults_credited_at,
    due_at,
    kill_of,
    killed_since,
    soaks,
)

__all__ = [
    "DoseFact",
    "StepFact",
    "TreatmentFact",
    "adult_step_ended_at",
    "adults_credited_at",
    "due_at",
    "kill_of",
    "killed_since",
    "soaks",
]


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
DOUBTFUL = frozenset({"caution", "unknown"})
TREATABLE = frozenset({"received", "in_quarantine"})
TRANSITIONS: Mapping[State, frozenset[State]] = {
    State.PLANNED: frozenset({State.RUNNING, State.ABANDONED}),
    State.RUNNING: frozenset({State.FINISHED, State.ABANDONED}),
    State.FINISHED: frozenset(),
    State.ABANDONED: frozenset(),
}


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
    code: str, method: str, level: str, *, overridden: bool, doubt: Sequence[Reason] = ()
) -> list[Reason]:
    """Why a method does not fit a plant: `avoid` needs an owner's override, `doubt` what answers it."""
    if level == "avoid" and not overridden:
        detail = f"Lot {code}: this plant must not get {method}; an owner may override it with a reason."
        return [Reason("plant-avoids-method", detail, needed="override_reason of an owner", have=level)]
    return list(doubt) if level in DOUBTFUL and not overridden else []


def wool_reasons(code: str, *, kept_in_wool: bool, avoid_wool: bool) -> list[Reason]:
    """Plants kept in wool get neither bleach nor copper: the wool holds it."""
    if not (kept_in_wool and avoid_wool):
        return []
    detail = f"Lot {code} is kept in wool, which holds the chemical: take it off first, or choose another."
    return [Reason("kept-in-wool", detail)]


def departs(duration: Mapping[str, Any], elapsed: timedelta) -> bool:
    """Whether a step lasted less than its least or more than its most time."""
    return not duration["min_s"] <= elapsed.total_seconds() <= duration["max_s"]


def substances(content: Mapping[str, Any], of_material: Mapping[str, str]) -> list[tuple[str, str | None]]:
    """(kind, substance put into the water) of every step; `of_material`: the substance by material code."""
    return [(step["kind"], of_material.get(step.get("material") or "")) for step in content["steps"]]
