"""What a result is worth as evidence."""

from typing import Any

import pytest

from service.science.evidence import BetaCredit
from service.trials.rules_learning import (
    UNKNOWN,
    adoption_reasons,
    credit_document,
    credit_so_far,
    learnt,
    trial_grade,
)
from service.trials.rules_result import ArmCount, Kill, stage_result
from tests.trials.test_rules_result import arm

ASSUMED = {
    "pest": "x",
    "stage": "egg",
    "kill": 0.8,
    "grade": "D",
    "source": "s",
    "needs_measured_course": True,
}


def kill_of(treated: ArmCount, control: ArmCount | None = None) -> Kill:
    found = stage_result("x", "egg", [treated, *([control] if control else [])])
    assert found is not None
    return next(kill for kill in found.kills if kill.count.arm == treated.arm)


def grade(tubs: int, per_tub: int, *, blind: bool = True, alive: float = 1.0) -> str:
    control = arm("control", *[(per_tub, round(per_tub * alive))] * tubs)
    kill = kill_of(arm("alum", *[(per_tub, 0)] * tubs), control)
    return trial_grade(kill, control.before, tubs, blind=blind)


def test_grades_follow_rules_that_can_be_read() -> None:
    assert grade(3, 10) == "A"
    assert grade(3, 10, blind=False) == "B"
    assert grade(2, 15) == "B"
    assert grade(3, 9) == "B"
    assert grade(2, 9) == "C"
    assert grade(1, 60) == "C"
    assert grade(3, 10, alive=0.7) == "C"
    assert trial_grade(kill_of(arm("alum", (30, 0))), 0, 0, blind=True) == "D"


def test_what_no_control_corrects_is_never_learnt() -> None:
    assert learnt("x", "egg", kill_of(arm("alum", (30, 0))), ASSUMED, grade="D", source="s") is None


def test_an_assumed_kill_gives_way_to_what_was_seen() -> None:
    kill = kill_of(arm("alum", (14, 1)), arm("control", (12, 11)))
    found = learnt("x", "egg", kill, ASSUMED, grade="C", source="s")
    assert found is not None
    # By hand: 14 x 11/12 = 12.83 would have hatched, 1 did: Beta(0.8 x 2 + 11.83, 0.2 x 2 + 1).
    assert found.credit.killed == pytest.approx(13.4333, abs=1e-4)
    assert found.credit.survived == pytest.approx(1.4)
    assert found.interval.low < found.credit.kill < found.interval.high
    assert (found.before, found.grade, found.trial_grade) == (0.8, "C", "C")


def test_well_known_kills_keep_their_grade_against_a_small_trial() -> None:
    known = {**ASSUMED, "grade": "A", "kill": 0.99}
    kill = kill_of(arm("alum", (5, 2)), arm("control", (5, 5)))
    found = learnt("x", "egg", kill, known, grade="C", source="s")
    assert found is not None
    assert found.grade == "A"
    assert found.credit.kill < 0.99


def test_what_was_learnt_before_is_the_next_trial_s_start() -> None:
    assert credit_so_far(None) == UNKNOWN
    assert credit_so_far({**ASSUMED, "beta": {"killed": 13.0, "survived": 1.4}}) == BetaCredit(13.0, 1.4)
    assert credit_so_far(ASSUMED).weight == pytest.approx(2)
    kill = kill_of(arm("alum", (14, 0)), arm("control", (14, 14)))
    found = learnt("x", "egg", kill, None, grade="C", source="s")
    assert found is not None
    assert (found.before, found.grade, found.credit) == (None, "C", BetaCredit(15.0, 1.0))


def test_the_egg_credit_of_a_course_stays_bound_to_readings() -> None:
    kill = kill_of(arm("copper", (14, 0)), arm("control", (14, 14)))
    found = learnt("x", "egg", kill, None, grade="C", source="Own trial")
    assert found is not None
    assert credit_document(found, None, course=True)["needs_measured_course"] is True
    assert credit_document(found, None, course=False)["needs_measured_course"] is False
    document = credit_document(found, {**ASSUMED, "needs_measured_course": False}, course=True)
    assert document == {
        "pest": "x",
        "stage": "egg",
        "kill": 0.9375,
        "grade": "C",
        "source": "Own trial",
        "needs_measured_course": False,
        "beta": {"killed": 15.0, "survived": 1.0},
    }


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"control": True}, "control-arm"),
        ({"adopted": True}, "adopted-already"),
        ({"same_steps": False}, "protocol-moved-on"),
        ({"observed": False}, "nothing-observed"),
        ({"closed": False}, "trial-open"),
    ],
)
def test_why_nothing_can_be_learnt(changes: dict[str, Any], code: str) -> None:
    sound = {
        "control": False,
        "adopted": False,
        "same_steps": True,
        "observed": True,
        "blind": True,
        "closed": True,
    }
    assert adoption_reasons(**sound) == []
    [reason] = adoption_reasons(**{**sound, **changes})
    assert reason.code == code
