"""The chance that none is left, judged on a lot's facts; the science behind it has its own tests."""

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.quarantine.rules_freedom import (
    Animals,
    Eggs,
    Freedom,
    Known,
    Outlook,
    Seen,
    Sight,
    Suspect,
    freedom_of,
    outlook_of,
)
from service.science.development import PLANARIAN_VISIBILITY, SNAIL_VISIBILITY, Development, Reading

START = datetime(2026, 3, 2, 9, tzinfo=UTC)
SNAIL = Development("bladder_snail", 9, 136, 8.5, 25, None, 28, 34)
NOTHING_SEEN = Sight(0, 0, 0, 0.05)


def day(days: float) -> datetime:
    return START + timedelta(days=days)


def log(celsius: float = 21.1, days: int = 60) -> list[Reading]:
    return [Reading(day(hour / 24), celsius) for hour in range(24 * days)]


def eyes(*days: float, share: float = 1.0) -> list[Seen]:
    return [Seen(day(at), "eyes", share) for at in days]


def sights(never_seen: float) -> tuple[Sight, Sight, Sight]:
    egg, hatchling, juvenile = (Sight(se, 0, 0, never_seen) for se in (0.55, 0.20, 0.60))
    return egg, hatchling, juvenile


NO_ANIMAL = Animals(0, START, NOTHING_SEEN)
EGGS = Eggs(0.25, SNAIL, SNAIL_VISIBILITY, sights(0.05))
SUSPECT = Suspect("bladder_snail", NO_ANIMAL, EGGS)
KNOWN = Known(START, eyes(7, 14, 21, 28, 35), log(), (), day(50))


@pytest.mark.parametrize(
    ("looks", "chance"),
    [
        # The table of the formula: 21.1 °C, 0.25 masses expected, 0.05 never seen.
        (eyes(7, 14, 21, 28, 35), 0.978722),
        (eyes(28, 31), 0.950333),
        (eyes(7, 14, 21, 28, 35, share=0.5), 0.927315),
        (eyes(3, 7, 10, 14, 17, 21, 24, 28, 31, share=0.5), 0.964955),
        ([], math.exp(-0.25)),
    ],
)
def test_a_log_at_one_temperature_gives_the_chances_of_the_table(looks: list[Seen], chance: float) -> None:
    judged = freedom_of(SUSPECT, replace(KNOWN, looks=looks))
    assert judged.probability == pytest.approx(chance, abs=1e-6)
    assert judged.highest == pytest.approx(math.exp(-0.25 * 0.05))
    assert (judged.pest, judged.never_seen_share) == ("bladder_snail", 0.05)


def test_units_left_are_those_that_the_looks_may_have_missed() -> None:
    assert freedom_of(SUSPECT, replace(KNOWN, looks=[])).units_left == pytest.approx(0.25)
    assert freedom_of(SUSPECT, KNOWN).units_left == pytest.approx(0.0215, abs=1e-4)


def test_a_look_when_the_clock_starts_sees_none_of_the_eggs_laid_then() -> None:
    first = replace(KNOWN, looks=eyes(0))
    assert freedom_of(SUSPECT, first).probability == pytest.approx(math.exp(-0.25))
    assert freedom_of(SUSPECT, replace(KNOWN, looks=eyes(0.01))).probability > math.exp(-0.25)


def test_strain_and_bait_see_what_eyes_on_few_plants_do_not() -> None:
    sight = Sight(0.6, 0.75, 0.875, 0.0)
    for way, missed in (("eyes", 0.94), ("strain", 0.25), ("bait", 0.5)):
        animal = Suspect("hydra", Animals(1, START, sight), None)
        judged = freedom_of(animal, replace(KNOWN, looks=[Seen(day(1), way, 0.1)]))  # type: ignore[arg-type]
        assert judged.probability == pytest.approx(math.exp(-missed))


def test_animals_are_looked_for_since_they_came() -> None:
    sight = Sight(0.5, 0, 0, 0.2)
    animal = Suspect("hydra", Animals(1, day(3), sight), None)
    judged = freedom_of(animal, replace(KNOWN, looks=eyes(2, 3, 4)))
    assert judged.probability == pytest.approx(math.exp(-(0.2 + 0.8 * 0.25)))
    assert judged.highest == pytest.approx(math.exp(-0.2))
    assert judged.units_left == pytest.approx(0.4)


def test_unseen_adults_may_have_laid_every_day_until_the_clock_started() -> None:
    animals = Animals(0.1, day(-2.5), NOTHING_SEEN)
    blind = replace(KNOWN, looks=[])
    two_days = freedom_of(replace(SUSPECT, animals=animals), blind)
    assert two_days.probability == pytest.approx(math.exp(-(0.25 + 0.1 + 2 * 0.1)))
    seen = replace(animals, sight=Sight(0.5, 0, 0, 0.0))
    looked = freedom_of(replace(SUSPECT, animals=seen), replace(KNOWN, looks=eyes(-2)))
    # One look half a day before the first day's end halves what is left of them on both days.
    assert looked.probability == pytest.approx(math.exp(-(0.25 + 0.05 + 2 * 0.05)))


def test_laying_is_counted_for_four_months_at_most() -> None:
    ages = Animals(0.01, day(-500), NOTHING_SEEN)
    judged = freedom_of(replace(SUSPECT, animals=ages), replace(KNOWN, looks=[]))
    assert judged.probability == pytest.approx(math.exp(-(0.25 + 0.01 + 120 * 0.01)))


def test_young_that_are_seen_after_plain_days() -> None:
    flat = replace(
        SNAIL, code="planarian", lower_threshold_c=2, thermal_constant_dd=318, anchor_days=19.9, anchor_c=18
    )
    eggs = Eggs(0.25, flat, PLANARIAN_VISIBILITY, sights(0.0))
    sure = Sight(0, 0, 0, 0), Sight(0, 0, 0, 0), Sight(1, 0, 0, 0)
    late = freedom_of(
        Suspect("planarian", NO_ANIMAL, replace(eggs, sights=sure)), replace(KNOWN, looks=eyes(49))
    )
    early = freedom_of(
        Suspect("planarian", NO_ANIMAL, replace(eggs, sights=sure)), replace(KNOWN, looks=eyes(2.9))
    )
    assert late.probability == pytest.approx(1.0)
    assert early.probability == pytest.approx(math.exp(-0.25))


def test_what_crawls_hides_less_than_what_is_young() -> None:
    egg, hatchling, juvenile = sights(0.05)
    crawling = (egg, hatchling, juvenile._replace(never_seen=0.01))
    judged = freedom_of(replace(SUSPECT, eggs=replace(EGGS, sights=crawling)), KNOWN)
    assert judged.highest == pytest.approx(math.exp(-0.25 * 0.01))
    assert judged.never_seen_share == 0.05
    assert judged.probability > freedom_of(SUSPECT, KNOWN).probability


def test_the_least_favourable_threshold_counts() -> None:
    wide = replace(SNAIL, lower_threshold_range=(5, 10))
    chances = [
        freedom_of(replace(SUSPECT, eggs=replace(EGGS, development=variant)), KNOWN).probability
        for variant in (
            SNAIL,
            replace(SNAIL, lower_threshold_c=5, thermal_constant_dd=170),
            replace(SNAIL, lower_threshold_c=10, thermal_constant_dd=127.5),
        )
    ]
    judged = freedom_of(replace(SUSPECT, eggs=replace(EGGS, development=wide)), KNOWN)
    assert judged.probability == pytest.approx(min(chances))
    assert max(chances) > min(chances)


def test_soaks_and_cold_water_leave_eggs_less_developed() -> None:
    late = replace(KNOWN, looks=eyes(28, 31))
    slow = freedom_of(SUSPECT, replace(late, half_credit=[(START, day(20))]))
    cold = freedom_of(SUSPECT, replace(late, readings=log(15)))
    assert slow.probability < freedom_of(SUSPECT, late).probability
    assert cold.probability != pytest.approx(freedom_of(SUSPECT, late).probability)


@settings(max_examples=20)
@given(st.lists(st.floats(0.1, 45), min_size=1, max_size=6), st.floats(0.1, 45))
def test_one_more_clean_look_never_lowers_the_chance(days: list[float], more: float) -> None:
    before = freedom_of(SUSPECT, replace(KNOWN, looks=eyes(*days)))
    after = freedom_of(SUSPECT, replace(KNOWN, looks=eyes(*days, more)))
    assert after.probability >= before.probability - 1e-12
    assert after.units_left <= before.units_left + 1e-12


@pytest.mark.parametrize(
    ("chances", "outlook"),
    [
        ([], Outlook.ENOUGH),
        ([(0.95, 0.99)], Outlook.ENOUGH),
        ([(0.99, 0.99), (0.94, 0.95)], Outlook.MORE_LOOKS),
        ([(0.94, 0.96), (0.9, 0.94)], Outlook.NEVER),
    ],
)
def test_more_looks_help_as_long_as_the_cap_reaches_the_target(
    chances: list[tuple[float, float]], outlook: Outlook
) -> None:
    found = [Freedom("pond_snail", chance, highest, 0.1, 0.05) for chance, highest in chances]
    assert outlook_of(found, 0.95) is outlook
