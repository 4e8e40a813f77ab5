"""Animals in soak water: five shrimp or ten water fleas, 72 h (decision 9; common practice, no source)."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from service.clearance.rules_animals import (
    NOT_TESTED,
    AnimalTest,
    Asked,
    counting,
    died_in,
    form_reasons,
    is_passed,
    told,
)

START = datetime(2026, 3, 2, 9, tzinfo=UTC)


def day(days: float) -> datetime:
    return START + timedelta(days=days)


LIVED = AnimalTest("shrimp", 5, 5, day(0), day(3))
DIED = replace(LIVED, alive=3)
FLEAS = AnimalTest("water_flea", 10, 10, day(0), day(3))


@pytest.mark.parametrize(
    ("test", "passed"),
    [
        (LIVED, True),
        (FLEAS, True),
        (replace(FLEAS, animals=9, alive=9), False),
        (replace(LIVED, animals=4, alive=4), False),
        (replace(LIVED, ended_at=day(2.9)), False),
        (DIED, False),
    ],
)
def test_enough_of_them_live_long_enough(test: AnimalTest, *, passed: bool) -> None:
    assert is_passed(test, Asked()) is passed


def test_a_policy_may_ask_for_more() -> None:
    assert not is_passed(LIVED, Asked(shrimp=6))
    assert not is_passed(LIVED, Asked(alive_h=96))


@pytest.mark.parametrize(
    ("test", "said"),
    [
        (None, NOT_TESTED),
        (LIVED, "Tested for shrimp: 5 of 5 shrimp were alive after 72 hours in water"),
        (FLEAS, "Tested for shrimp: 10 of 10 water fleas were alive after 72 hours in water"),
        (DIED, "Tested for shrimp, and not passed: 3 of 5 shrimp were alive after 72 hours."),
        (
            replace(LIVED, ended_at=day(1)),
            "Not tested for shrimp long enough or with enough of them: 5 of 5 shrimp were alive after "
            "24 hours; asked for are 5 for 72 hours.",
        ),
    ],
)
def test_the_statement_says_no_more_than_was_tested(test: AnimalTest | None, said: str) -> None:
    assert told(test, Asked()).startswith(said)


def test_only_deaths_speak_against_the_plants() -> None:
    assert died_in(None) is None
    assert died_in(LIVED) is None
    assert died_in(DIED) == "3 of 5 shrimp were alive after 72 hours in water that the plants had soaked in."


@pytest.mark.parametrize(
    ("since", "at", "found"),
    [
        (0, 3, DIED),
        (0, 2, None),  # it was not over
        (0, 9, LIVED),
        (0.5, 9, LIVED),
        (6, 9, None),  # poured since
    ],
)
def test_the_newest_test_begun_after_what_was_poured_counts(
    since: float, at: float, found: AnimalTest | None
) -> None:
    later = replace(LIVED, started_at=day(5), ended_at=day(8))
    counted = counting([later, DIED], day(since), day(at))
    assert counted == (None if found is None else DIED if found is DIED else later)


@pytest.mark.parametrize(
    ("test", "pointers"),
    [
        (LIVED, []),
        (replace(LIVED, alive=6), ["#/alive"]),
        (replace(LIVED, ended_at=day(0)), ["#/started_at"]),
    ],
)
def test_a_test_that_cannot_be_is_refused(test: AnimalTest, pointers: list[str]) -> None:
    assert [reason.pointer for reason in form_reasons(test)] == pointers
