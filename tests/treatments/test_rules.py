"""What a treatment may do next, and which lots it may be done to."""

from datetime import timedelta
from typing import Any

import pytest

from service.core.reasons import Reason
from service.reference.loader import shipped
from service.treatments.rules import (
    State,
    Step,
    abandon_reasons,
    allowed_moves,
    departs,
    due_at,
    finish_reasons,
    fit_reasons,
    start_reasons,
    state_reasons,
    step_finish_reasons,
    substances,
    wool_reasons,
)
from tests.treatments.facts import START


def steps(*states: str) -> list[Step]:
    return [Step(n, "rinse", state) for n, state in enumerate(states, start=1)]


def codes(reasons: Any) -> list[str]:
    return [reason.code for reason in reasons]


@pytest.mark.parametrize(
    ("state", "states", "n", "expected"),
    [
        (State.PLANNED, ("open", "open"), 1, []),
        (State.RUNNING, ("done", "open"), 2, []),
        (State.RUNNING, ("done", "open"), 1, ["step-started"]),
        (State.RUNNING, ("running", "open"), 1, ["step-started"]),
        (State.RUNNING, ("running", "open"), 2, ["step-order"]),
        (State.PLANNED, ("open", "open", "open"), 3, ["step-order", "step-order"]),
        (State.FINISHED, ("done", "done"), 2, ["treatment-over"]),
        (State.ABANDONED, ("open", "open"), 1, ["treatment-over"]),
    ],
)
def test_steps_start_in_their_order(
    state: State, states: tuple[str, ...], n: int, expected: list[str]
) -> None:
    assert codes(start_reasons(state, steps(*states), n)) == expected


@pytest.mark.parametrize(
    ("state", "of_step", "expected"),
    [
        (State.RUNNING, "running", []),
        (State.RUNNING, "open", ["step-not-running"]),
        (State.RUNNING, "done", ["step-not-running"]),
        (State.ABANDONED, "done", ["treatment-over"]),
    ],
)
def test_only_a_running_step_is_finished(state: State, of_step: str, expected: list[str]) -> None:
    assert codes(step_finish_reasons(state, steps(of_step)[0])) == expected


def test_a_treatment_is_finished_when_every_step_is_done() -> None:
    assert finish_reasons(State.RUNNING, steps("done", "done")) == []
    assert codes(finish_reasons(State.RUNNING, steps("done", "running", "open"))) == ["step-open"] * 2
    assert codes(finish_reasons(State.FINISHED, steps("done"))) == ["treatment-over"]


def test_only_what_is_under_way_is_abandoned() -> None:
    assert abandon_reasons(State.PLANNED) == abandon_reasons(State.RUNNING) == []
    assert codes(abandon_reasons(State.FINISHED)) == ["treatment-over"]


def test_the_moves_of_a_treatment() -> None:
    assert allowed_moves(State.PLANNED) == ["abandoned", "running"]
    assert allowed_moves(State.RUNNING) == ["abandoned", "finished"]
    assert allowed_moves(State.FINISHED) == allowed_moves(State.ABANDONED) == []


@pytest.mark.parametrize(
    ("state", "expected"),
    [
        ("received", []),
        ("in_quarantine", []),
        ("in_treatment", ["already-in-treatment"]),
        ("cleared", ["not-treatable"]),
        ("closed", ["not-treatable"]),
        ("rejected", ["not-treatable"]),
    ],
)
def test_which_lots_can_be_treated(state: str, expected: list[str]) -> None:
    assert codes(state_reasons("26-001-01", state)) == expected


@pytest.mark.parametrize(
    ("level", "overridden", "in_doubt", "expected"),
    [
        ("tolerates", False, True, []),
        ("avoid", False, True, ["plant-avoids-method"]),
        ("avoid", True, False, []),
        ("caution", False, True, ["trial-stems-needed"]),
        ("caution", False, False, []),
        ("caution", True, True, []),
        ("unknown", False, True, ["trial-stems-needed"]),
        ("unknown", False, False, []),
        ("avoid", False, False, ["plant-avoids-method"]),
    ],
)
def test_a_method_must_fit_the_plant(
    level: str, *, overridden: bool, in_doubt: bool, expected: list[str]
) -> None:
    found = fit_reasons(
        "26-001-01",
        "bleach_dip",
        level,
        overridden=overridden,
        doubt=[Reason("trial-stems-needed", "In doubt.")] if in_doubt else [],
    )
    assert codes(found) == expected


@pytest.mark.parametrize("in_wool", [True, False])
@pytest.mark.parametrize("avoids", [True, False])
def test_wool_gets_neither_bleach_nor_copper(*, in_wool: bool, avoids: bool) -> None:
    expected = ["kept-in-wool"] if in_wool and avoids else []
    assert codes(wool_reasons("26-001-01", kept_in_wool=in_wool, avoid_wool=avoids)) == expected


def test_only_bleach_and_copper_avoid_wool() -> None:
    avoiding = {code for code, protocol in shipped().protocols.items() if protocol.avoid_wool}
    assert avoiding == {"bleach-dip", "copper-course"}


@pytest.mark.parametrize(("seconds", "expected"), [(89, True), (90, False), (150, False), (151, True)])
def test_a_step_outside_its_limits_departs(seconds: int, *, expected: bool) -> None:
    duration = {"target_s": 120, "min_s": 90, "max_s": 150}
    assert departs(duration, timedelta(seconds=seconds)) is expected
    assert due_at(duration, START) == START + timedelta(seconds=120)


def test_steps_put_the_substance_of_their_material_into_the_water() -> None:
    content = {"steps": [{"kind": "rinse", "material": None}, {"kind": "dip", "material": "bleach"}]}
    assert substances(content, {"bleach": "chlorine"}) == [("rinse", None), ("dip", "chlorine")]
