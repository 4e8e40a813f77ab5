"""What can be written down of a look at a trial, and what cannot."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from service.trials.rules_known import Known, Place, living
from service.trials.rules_observation import Plan, observation_reasons, time_reasons

START = datetime(2026, 3, 2, 9, tzinfo=UTC)
PLAN = Plan(START, (0, 3, 7))
PESTS = {"bladder_snail", "planarian"}
PLACES = {
    "u001": Place(control=False, treated_at=START + timedelta(hours=2), is_unit=True),
    "u002": Place(control=False, treated_at=None, is_unit=True),
    "u003": Place(control=True, treated_at=None, is_unit=True),
    "t01": Place(control=True, treated_at=None, is_unit=False),
}
NONE = {"live": 0, "dead": 0, "clear": 0, "cloudy": 0, "white": 0, "hatched": 0, "laid": 0}
WELL = {"leaves": 5, "roots": 5, "melt": 5, "new_growth": 5}


def at(days: float) -> datetime:
    return START + timedelta(days=days)


def count(
    label: str = "u003", stage: str = "adult", pest: str = "bladder_snail", **more: int
) -> dict[str, Any]:
    return {"label": label, "pest": pest, "stage": stage, **NONE, **more}


def judged(label: str = "u003", **more: Any) -> dict[str, Any]:
    return {"label": label, "grown": "submersed", "fate": "alive", **WELL, **more}


def told(**more: Any) -> dict[str, Any]:
    return {"counts": [], "conditions": [], "hatches": [], "dummies": [], "photos": [], **more}


def known(*looks: tuple[int, dict[str, Any]]) -> Known:
    found = Known()
    for day, look in looks:
        found.add(day, look)
    return found


def codes(day: int, before: Known | None = None, **more: Any) -> list[tuple[str, str | None]]:
    found = observation_reasons(day, told(**more), PLACES, PESTS, before or known())
    return [(reason.code, reason.pointer) for reason in found]


def times(day: int, moment: datetime, *labels: str) -> list[str]:
    look = told(counts=[count(label) for label in labels], conditions=[judged(label) for label in labels])
    return [reason.code for reason in time_reasons(day, moment, PLAN, PLACES, look)]


def test_a_look_is_on_a_day_of_the_schedule_not_before_the_trial_and_not_days_early() -> None:
    assert times(5, at(5), "u003") == ["not-a-day-of-it"]
    assert times(0, at(-0.1), "u003") == ["before-the-trial"]
    assert times(3, at(1.9), "u003") == ["too-early"]
    assert times(3, at(2.1), "u003") == []
    assert times(3, at(6), "u003", "nobody") == []


def test_the_first_look_is_before_the_treatment_and_the_others_after_it() -> None:
    assert times(0, at(0), "u001", "u002", "u003") == []
    assert times(0, at(0.5), "u001") == ["after-the-treatment"]
    assert times(3, at(3), "u001", "u003", "t01") == []
    assert times(3, at(3), "u002") == ["before-the-treatment"]


def test_nothing_hatches_after_the_look_that_tells_it() -> None:
    rows = [{"hatched_at": at(2.9)}, {"hatched_at": at(3.1)}]
    [reason] = time_reasons(3, at(3), PLAN, PLACES, told(hatches=rows))
    assert (reason.code, reason.pointer) == ("after-the-look", "#/hatches/1/hatched_at")
    assert time_reasons(3, at(3.2), PLAN, PLACES, told(hatches=rows)) == []


def test_an_observation_before_the_treatment_names_its_moment() -> None:
    late = {"u001": Place(control=False, treated_at=at(4), is_unit=True)}
    [reason] = time_reasons(3, at(3), PLAN, late, told(counts=[count("u001")]))
    assert at(4).isoformat() in reason.detail


def test_what_stands_for_nothing_is_named() -> None:
    assert codes(0, counts=[count("u009", pest="dragon")]) == [
        ("unknown-label", "#/counts/0/label"),
        ("unknown-pest", "#/counts/0/pest"),
    ]
    assert codes(0, conditions=[judged("u009")]) == [("unknown-label", "#/conditions/0/label")]
    assert codes(0, conditions=[judged("t01")]) == [("not-a-unit", "#/conditions/0/label")]


def test_nothing_is_counted_twice_on_one_day() -> None:
    assert codes(0, counts=[count(), count()]) == [("observed-twice", "#/counts/1")]
    before = known((0, told(counts=[count()])))
    assert codes(0, before, counts=[count()]) == [("observed-twice", "#/counts/0")]
    assert codes(0, conditions=[judged(), judged()]) == [("observed-twice", "#/conditions/1")]
    assert codes(0, conditions=[judged(), judged(grown="emersed")]) == []


def test_eggs_and_animals_are_counted_in_their_own_words() -> None:
    assert codes(0, counts=[count(stage="egg", live=1)]) == [("wrong-count", "#/counts/0")]
    assert codes(0, counts=[count(cloudy=1)]) == [("wrong-count", "#/counts/0")]
    assert codes(0, counts=[count(stage="egg", clear=2, laid=0), count(live=3)]) == []


def test_what_may_still_move_or_hatch_lives() -> None:
    assert living(count(live=3, dead=2)) == 3
    assert living(count(stage="egg", clear=2, cloudy=1, white=4, hatched=5)) == 3


def test_what_was_never_looked_at_before_cannot_be_read() -> None:
    assert codes(3, counts=[count(live=1)]) == [("no-first-look", "#/counts/0")]
    looked = known((0, told(conditions=[judged()])))
    assert codes(3, looked, counts=[count(live=1)]) == []


def test_no_more_are_found_than_there_were() -> None:
    before = known((0, told(counts=[count(live=5)])), (3, told(counts=[count(live=3, dead=2)])))
    assert codes(7, before, counts=[count(live=1, dead=2)]) == []
    assert codes(7, before, counts=[count(live=2, dead=2)]) == [("more-than-there-were", "#/counts/0")]
    assert codes(7, before, counts=[count(dead=4)]) == [("more-than-there-were", "#/counts/0")]
    one_dead = known((0, told(counts=[count(live=5, dead=1)])))
    assert codes(3, one_dead, counts=[count(live=5)]) == []
    assert codes(3, one_dead, counts=[count(live=6)]) == [("more-than-there-were", "#/counts/0")]
    young = known((0, told(counts=[count(stage="hatchling", live=1)])))
    assert codes(3, young, counts=[count(stage="hatchling", live=9)]) == []


def test_egg_masses_stay_as_many_and_hatched_ones_hatched() -> None:
    first = (0, told(counts=[count(stage="egg", clear=3, cloudy=1)]))
    later = (3, told(counts=[count(stage="egg", clear=1, hatched=2)]))
    before = known(first, later)
    assert codes(7, before, counts=[count(stage="egg", white=2, hatched=2, laid=4)]) == []
    assert codes(7, before, counts=[count(stage="egg", hatched=5)]) == [
        ("more-than-there-were", "#/counts/0")
    ]
    assert codes(7, before, counts=[count(stage="egg", hatched=1)]) == [
        ("fewer-hatched", "#/counts/0/hatched")
    ]


def test_a_look_entered_after_a_later_one_is_held_against_what_came_before_it() -> None:
    before = known((0, told(counts=[count(live=5)])), (7, told(counts=[count(live=2, dead=3)])))
    assert codes(3, before, counts=[count(live=5)]) == []


def test_a_look_entered_late_makes_no_more_dead_than_there_were_on_the_days_after_it() -> None:
    before = known((0, told(counts=[count(live=5)])), (7, told(counts=[count(live=2, dead=3)])))
    assert codes(3, before, counts=[count(live=4, dead=1)]) == [("more-than-there-were", "#/counts/0")]
    again = known((0, told(counts=[])), (3, told(counts=[count(live=5)])))
    assert codes(0, again, counts=[count(live=4)]) == [("more-than-there-were", "#/counts/0")]


def test_the_living_have_scores_and_the_dead_none() -> None:
    assert codes(3, conditions=[judged(roots=None)]) == [("score-missing", "#/conditions/0/roots")]
    assert codes(3, conditions=[judged(fate="dead")]) == [("score-missing", "#/conditions/0/leaves")]
    none: dict[str, Any] = dict.fromkeys(WELL)
    assert codes(3, conditions=[judged(fate="dead", **none)]) == []


def test_what_is_dead_or_taken_stays_so() -> None:
    none: dict[str, Any] = dict.fromkeys(WELL)
    before = known((3, told(conditions=[judged(fate="dead", **none)])))
    assert codes(7, before, conditions=[judged()]) == [("gone-before", "#/conditions/0/fate")]
    assert codes(3, before, conditions=[judged(grown="emersed")]) == [("fates-differ", "#/conditions/0/fate")]
    assert codes(0, before, conditions=[judged()]) == []
    later = known((7, told(conditions=[judged()])))
    assert codes(3, later, conditions=[judged(fate="dead", **none)]) == [
        ("gone-before", "#/conditions/0/fate")
    ]


def test_a_unit_is_judged_once_a_day_for_leaves_of_a_kind_even_in_two_entries() -> None:
    before = known((3, told(conditions=[judged()])))
    assert codes(3, before, conditions=[judged()]) == [("observed-twice", "#/conditions/0")]
    assert codes(3, before, conditions=[judged(grown="emersed")]) == []
    assert codes(3, conditions=[judged(), judged(fate="taken", grown="emersed")]) == [
        ("fates-differ", "#/conditions/1/fate")
    ]


def test_a_photo_is_of_something_in_the_trial_or_of_the_whole() -> None:
    assert codes(3, photos=[{"label": None}, {"label": "t01"}]) == []
    assert codes(3, photos=[{"label": "x"}]) == [("unknown-label", "#/photos/0/label")]


@pytest.mark.parametrize(
    ("hatch", "expected"),
    [
        ({"label": "t01"}, []),
        ({"label": "x"}, [("unknown-label", "#/hatches/0/label")]),
        ({"label": "t01", "pest": "dragon"}, [("unknown-pest", "#/hatches/0/pest")]),
        ({"label": "t01", "hatched_at": at(1)}, [("hatched-before-laid", "#/hatches/0/hatched_at")]),
    ],
)
def test_a_mass_hatches_after_it_was_laid(hatch: dict[str, Any], expected: list[tuple[str, str]]) -> None:
    row = {"pest": "bladder_snail", "laid_at": at(2), "hatched_at": at(12), **hatch}
    assert codes(14, hatches=[row]) == expected


def test_no_more_dummies_are_found_than_were_hidden() -> None:
    assert codes(0, dummies=[{"hidden": 5, "found": 5}]) == []
    assert codes(0, dummies=[{"hidden": 5, "found": 6}]) == [("more-than-hidden", "#/dummies/0/found")]
