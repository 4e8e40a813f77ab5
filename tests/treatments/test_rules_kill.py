"""The share of a pest that a treatment is taken to have killed."""

from datetime import datetime
from typing import Any

import pytest

from service.treatments.rules import kill_of, killed_since
from tests.treatments.facts import COURSE, START, at, credited, doses, fact, readings, soak


def test_a_kill_of_good_evidence_counts_for_its_pest_and_stage() -> None:
    whole = fact(
        "copper-course", steps=(soak(0, 28),), doses=doses(*COURSE), measured=readings(d1=0.4), ended=28.1
    )
    assert kill_of(whole, "pond_snail", "adult") == 0.97
    assert kill_of(whole, "pond_snail", "egg") == 0.95
    assert kill_of(whole, "gilled_snail", "adult", grades={"A"}) == 0.0
    assert kill_of(whole, "unicorn", "adult") == 0.0


@pytest.mark.parametrize(
    "changes",
    [
        {"ended": None},
        {"steps": (soak(0, 28, "tub leaked"),)},
        {"measured": ()},
        {"measured": readings(d1=0.3)},
        {"state": "abandoned"},
    ],
)
def test_a_course_that_was_cut_short_left_its_limits_or_was_not_measured_killed_nothing(
    changes: dict[str, Any],
) -> None:
    given = {"steps": (soak(0, 28),), "doses": doses(*COURSE), "measured": readings(d1=0.4), "ended": 28.1}
    assert kill_of(fact("copper-course", **{**given, **changes}), "pond_snail", "egg") == 0.0
    assert kill_of(fact("copper-course", **{**given, **changes}), "pond_snail", "adult") == 0.0


# 0.6 mg/L for 4 days killed all embryos, for 1 day not (abstract on Bithynia and Physa gyrina).
@pytest.mark.parametrize(
    ("measured", "expected"),
    [
        (readings(d1=0.6, d3=0.7, d5=0.6), 0.95),
        (readings(d1=0.6, d4=0.7), 0.0),
        (readings(d1=0.6, d3=0.59, d5=0.6), 0.0),
        (readings(d1=0.5, d2=0.6, d6=0.6), 0.95),
        (readings(d1=0.6, d3=0.5, d4=0.6, d8=0.6), 0.95),
    ],
)
def test_strong_copper_over_four_days_kills_eggs(
    measured: tuple[tuple[datetime, float], ...], expected: float
) -> None:
    found = fact("copper-course", steps=(soak(0, 28),), measured=measured, ended=28.1)
    assert kill_of(found, "pond_snail", "egg") == expected


def test_a_dip_of_good_evidence_needs_no_measuring_unless_its_credit_asks_for_it() -> None:
    done = credited(steps=(soak(0, 2),), ended=2.1)
    assert kill_of(done, "pond_snail", "adult") == 0.99
    assert kill_of(done, "pond_snail", "adult", grades={"B"}) == 0.0
    content = {
        **done.content,
        "credits": [{**c, "needs_measured_course": True} for c in done.content["credits"]],
    }
    asked = fact("alum-soak", content=content, steps=(soak(0, 2),), ended=2.1)
    assert kill_of(asked, "pond_snail", "adult") == 0.0
    measured = fact(
        "alum-soak", content=content, steps=(soak(0, 2),), ended=5.1, measured=readings(d1=0.6, d5=0.6)
    )
    assert kill_of(measured, "pond_snail", "adult") == 0.99


def test_one_treatment_kills_of_what_the_other_left() -> None:
    done = credited(steps=(soak(0, 2),), ended=2.1)
    both = [done, done]
    assert killed_since(both, "pond_snail", "adult", None, grades={"A"}) == pytest.approx(1 - 0.01**2)
    assert killed_since(both, "pond_snail", "adult", START, grades={"A"}) == pytest.approx(1 - 0.01**2)
    assert killed_since(both, "pond_snail", "adult", at(0.1), grades={"A"}) == 0.0
    planned = credited(steps=(soak(0, 2),), ended=2.1, started_at=None)
    assert killed_since([planned], "pond_snail", "adult", START, grades={"A"}) == 0.0
    assert killed_since([], "pond_snail", "adult", None, grades={"A"}) == 0.0
