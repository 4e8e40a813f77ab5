"""Kills, their correction by the control, and arms compared, from counts alone."""

from typing import Any

import pytest

from service.science.outcomes import henderson_tilton
from service.science.proportions import Interval
from service.trials.rules_known import Known
from service.trials.rules_result import ArmCount, Compared, Tally, compare, stage_result, tally

NONE = {"live": 0, "dead": 0, "clear": 0, "cloudy": 0, "white": 0, "hatched": 0, "laid": 0}


def arm(name: str, *tubs: tuple[int, int], unaccounted: int = 0) -> ArmCount:
    tallies = tuple(Tally(before, after, unaccounted, 7) for before, after in tubs)
    return ArmCount(name, name == "control", tallies)


def known(*looks: tuple[int, dict[str, Any]]) -> Known:
    found = Known()
    for day, count in looks:
        row = {**NONE, "label": "u1", "pest": "bladder_snail", "stage": "adult", **count}
        found.add(day, {"counts": [row], "conditions": []})
    return found


def read(stage: str, *looks: tuple[int, dict[str, int]]) -> Tally | None:
    return tally(
        known(*[(day, {**look, "stage": stage}) for day, look in looks]), ["u1"], "bladder_snail", stage
    )


def test_adults_are_read_on_the_last_look_up_to_day_7() -> None:
    looks = [(0, {"live": 5}), (3, {"live": 2, "dead": 2}), (7, {"live": 1}), (10, {"live": 4})]
    assert read("adult", *looks) == Tally(5, 1, 2, 7)


def test_eggs_are_read_on_the_last_look_and_only_those_that_could_hatch() -> None:
    looks = [
        (0, {"clear": 3, "cloudy": 1, "white": 1, "hatched": 1}),
        (28, {"white": 2, "hatched": 3, "clear": 1}),
    ]
    assert read("egg", *looks) == Tally(4, 2, 0, 28)
    gone = [(0, {"clear": 4}), (28, {"hatched": 1})]
    assert read("egg", *gone) == Tally(4, 1, 3, 28)


def test_a_tub_that_was_never_looked_at_again_says_nothing() -> None:
    assert read("adult", (0, {"live": 5})) is None
    assert read("adult", (0, {"live": 5}), (10, {"live": 5})) is None
    assert tally(Known(), ["u1"], "bladder_snail", "adult") is None


def test_the_units_of_a_tub_are_added_up() -> None:
    found = Known()
    for day, live in ((0, 3), (7, 1)):
        rows = [
            {**NONE, "label": label, "pest": "bladder_snail", "stage": "adult", "live": live}
            for label in ("u1", "u2")
        ]
        found.add(day, {"counts": rows, "conditions": []})
    assert tally(found, ["t1", "u1", "u2"], "bladder_snail", "adult") == Tally(6, 2, 4, 7)


def test_a_kill_is_corrected_by_the_control_even_from_unequal_starts() -> None:
    found = stage_result("bladder_snail", "adult", [arm("control", (28, 26)), arm("alum", (30, 6))])
    assert found is not None
    control, alum = found.kills
    assert alum.corrected is not None
    # Henderson and Tilton: 1 - 6 x 28 / (30 x 26) = 0.784615.
    assert alum.corrected.efficacy == pytest.approx(0.784615, abs=1e-6)
    assert alum.corrected.efficacy == henderson_tilton(30, 6, 28, 26)
    assert alum.share.estimate == pytest.approx(0.8)
    assert control.corrected is None
    assert control.why_not == "This is the control."


def test_abbott_s_own_case_comes_out() -> None:
    # Abbott 1925: 50 % of the check dead, 98 % of the treated: 96 %, and a control that lost too many.
    found = stage_result("x", "adult", [arm("control", (100, 50)), arm("dip", (100, 2))])
    assert found is not None
    corrected = found.kills[1].corrected
    assert corrected is not None
    assert corrected.efficacy == pytest.approx(0.96)
    assert corrected.control_sound is False


def test_without_a_control_nothing_is_corrected_but_arms_are_compared() -> None:
    found = stage_result("x", "adult", [arm("alum", (20, 1)), arm("salt", (20, 19))])
    assert found is not None
    assert {kill.corrected for kill in found.kills} == {None}
    assert "no control" in str(found.kills[0].why_not)
    assert [pair.better for pair in found.compared] == ["alum"]


def test_a_control_that_died_out_says_nothing_of_the_treatment() -> None:
    found = stage_result("x", "adult", [arm("control", (20, 0)), arm("alum", (20, 1))])
    assert found is not None
    assert found.kills[1].corrected is None
    assert "died out" in str(found.kills[1].why_not)


def test_what_was_not_there_has_no_result() -> None:
    assert stage_result("x", "adult", [arm("control", (0, 0)), arm("alum")]) is None


def test_hatchlings_may_become_more_and_are_not_compared_as_if_followed() -> None:
    found = stage_result("x", "hatchling", [arm("control", (10, 30)), arm("alum", (10, 3))])
    assert found is not None
    corrected = found.kills[1].corrected
    assert corrected is not None
    assert corrected.efficacy == pytest.approx(0.9)
    assert found.compared == ()
    assert found.kills[0].share.estimate == 0


def test_tubs_that_differ_make_intervals_wider_and_comparisons_stricter() -> None:
    alike = stage_result("x", "adult", [arm("control", (20, 18), (20, 19)), arm("alum", (20, 8), (20, 9))])
    unlike = stage_result("x", "adult", [arm("control", (20, 18), (20, 19)), arm("alum", (20, 0), (20, 17))])
    assert alike is not None
    assert unlike is not None
    assert alike.design_effect == 1
    assert alike.tubs_tell
    assert unlike.design_effect > 5
    assert alike.kills[1].share.estimate == unlike.kills[1].share.estimate
    assert unlike.kills[1].share.high > alike.kills[1].share.high
    assert (alike.compared[0].better, unlike.compared[0].better) == ("alum", None)


def test_one_tub_an_arm_tells_nothing_of_tubs() -> None:
    found = stage_result("x", "adult", [arm("control", (20, 18)), arm("alum", (20, 9))])
    assert found is not None
    assert not found.tubs_tell


def test_more_arms_make_each_comparison_stricter() -> None:
    two = compare([arm("control", (20, 18)), arm("alum", (20, 11))], 1.0)
    four = compare(
        [arm("control", (20, 18)), arm("alum", (20, 11)), arm("a", (20, 18)), arm("b", (20, 18))], 1.0
    )
    assert two[0].chance == four[0].chance
    assert four[0].corrected > two[0].corrected
    assert two[0].better == "alum"


def test_no_difference_is_nobody_s_merit() -> None:
    assert Compared("a", "b", Interval(0.0, -0.1, 0.1), 0.01, 0.01).better is None
    assert Compared("a", "b", Interval(-0.3, -0.5, -0.1), 0.01, 0.01).better == "b"


def test_none_left_of_fourteen_proves_four_fifths() -> None:
    found = stage_result("x", "egg", [arm("control", (12, 11)), arm("alum", (14, 0))])
    assert found is not None
    # (1 - 0.95)^(1/14) = 0.8074
    assert found.kills[1].proved == pytest.approx(0.05 ** (1 / 14))
    assert found.kills[1].corrected is not None
    assert found.kills[1].corrected.efficacy == 1
