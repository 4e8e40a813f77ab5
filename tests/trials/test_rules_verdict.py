"""What a trial says in words, with its numbers, and what it cannot say."""

from collections.abc import Sequence

from service.core.reasons import Reason
from service.trials.rules_methods import method
from service.trials.rules_result import ArmCount, StageResult, stage_result
from service.trials.rules_verdict import best_arms, limits, stage_verdict
from tests.trials.test_rules_result import arm


def judged(stage: str, *arms: ArmCount) -> StageResult:
    found = stage_result("bladder_snail", stage, arms)
    assert found is not None
    return found


def unable(*stages: StageResult, departures: Sequence[str] = (), hatch_over: bool | None = True) -> str:
    layout = [Reason("one-tub-per-arm", "One tub an arm.")]
    told = limits(
        stages,
        layout=layout,
        missed=[7, 10],
        late=[3],
        departures=departures,
        hatch_over=hatch_over,
        blind=["One look was not blind."],
    )
    return "\n".join(told)


def test_a_verdict_gives_both_counts_the_kill_its_interval_and_the_comparison() -> None:
    [words] = stage_verdict(judged("egg", arm("control", (12, 11)), arm("alum", (14, 0))))
    told = "0 of 14 egg masses of bladder snail hatched against 11 of 12 in the control"
    assert words.startswith(f"alum: {told}: corrected kill 100% (95 % interval ")
    assert "Better than the control (P below 0.0001 by Holm)" in words
    assert "None of 14 left proves a kill of 81% at least, not of 100 %" in words


def test_arms_that_chance_may_explain_are_not_called_better() -> None:
    [words] = stage_verdict(judged("adult", arm("control", (10, 9)), arm("salt", (10, 7))))
    assert "Not told apart from the control (P 0.58 by Holm)" in words
    assert "Better" not in words


def test_without_a_control_the_verdict_says_that_nothing_was_corrected() -> None:
    found = judged("adult", arm("alum", (20, 0)), arm("salt", (20, 19)))
    alum, salt = stage_verdict(found)
    assert "not corrected" in alum
    assert "Better than salt" in alum
    assert "Better" not in salt
    assert best_arms(found) == []


def test_young_that_became_more_have_no_interval_without_a_survivor() -> None:
    [words] = stage_verdict(judged("hatchling", arm("control", (5, 20)), arm("alum", (5, 0))))
    assert "corrected kill 100%. None of 5" in words


def test_the_best_are_those_that_beat_the_control_and_that_none_beats() -> None:
    found = judged(
        "adult", arm("control", (40, 39)), arm("alum", (40, 1)), arm("bleach", (40, 2)), arm("salt", (40, 20))
    )
    assert best_arms(found) == ["alum", "bleach"]
    alum, _, salt = stage_verdict(found)
    assert "Better than the control" in alum
    assert "Better than salt" in alum
    assert "Better than the control" in salt
    assert "bleach" not in salt


def test_a_sound_trial_keeps_to_what_no_trial_can_say() -> None:
    found = judged("adult", arm("control", (20, 18), (20, 19)), arm("alum", (20, 8), (20, 9)))
    told = limits([found], layout=[], missed=[], late=[], departures=[], hatch_over=True, blind=[])
    assert len(told) == 2
    assert "No nursery's trial proves that none survives" in told[-1]


def test_what_makes_a_trial_say_less_is_said() -> None:
    poor = judged("adult", arm("control", (20, 14)), arm("alum", (25, 4), unaccounted=3))
    words = unable(poor, departures=["alum, t01: soaked a day too long"])
    assert "30% of the control's adults" in words
    assert "3 of 25 adults of bladder snail in alum were found neither alive nor dead" in words
    assert "began with unlike numbers" in words
    assert "cannot be judged" in words
    assert "day 7, 10" in words
    assert "on day 3 came more than a day late" in words
    assert "soaked a day too long" in words
    assert "One tub an arm." in words
    assert "One look was not blind." in words


def test_tubs_that_differ_and_many_comparisons_are_told() -> None:
    found = judged(
        "adult",
        arm("control", (20, 18), (20, 19)),
        arm("alum", (20, 0), (20, 17)),
        arm("b", (20, 5), (20, 6)),
    )
    words = unable(found)
    assert "Tubs of one arm differed for adults" in words
    assert "3 comparisons for adults of bladder snail" in words


def test_a_control_that_died_out_and_tubs_never_seen_again_are_told() -> None:
    gone = ArmCount("alum", False, arm("alum", (20, 1)).tallies, tubs_unread=1)
    words = unable(judged("adult", arm("control", (20, 0)), gone))
    assert "died out" in words
    assert "1 tubs of alum were not looked at again" in words


def test_eggs_are_not_counted_as_dead_before_their_time_is_over() -> None:
    eggs = judged("egg", arm("control", (12, 2)), arm("alum", (14, 0)))
    assert "not final" in unable(eggs, hatch_over=False)
    assert "Without a temperature log" in unable(eggs, hatch_over=None)
    assert "log" not in unable(judged("adult", arm("control", (9, 9)), arm("alum", (9, 0))), hatch_over=None)


def test_a_method_s_hands_are_reckoned_from_its_written_steps() -> None:
    content = {
        "steps": [
            {"kind": "dip", "duration": {"target_s": 120}},
            {"kind": "soak", "duration": {"target_s": 7 * 86400 - 120}},
        ],
        "water_change": {"per_week": 2},
        "cautions": ["Gloves."],
        "disposal": "Neutralise.",
    }
    found = method("copper", content, tubs=2, units=10, cost=(1_500_000, "EUR"))
    # Two tubs: two minutes at the dip, five to set the soak up, two water changes of six minutes.
    assert (found.minutes, found.minutes_per_unit, found.lasts_days) == (38.0, 3.8, 7.0)
    assert found.protective_wear == ()
    plain = method(
        "alum",
        {**content, "water_change": None, "protective_wear": ["Goggles"]},
        tubs=1,
        units=5,
        cost=(None, None),
    )
    assert (plain.minutes, plain.protective_wear) == (7.0, ("Goggles",))
    assert method("control", None, tubs=2, units=10, cost=(0, None)).minutes == 0
