"""What a lot waits for, with the shipped figures (their sources stand in the reference data)."""

from dataclasses import asdict
from datetime import timedelta
from typing import Any

import pytest

from service.journal.rules import plain
from service.quarantine.rules_release import Wait
from service.quarantine.rules_wait import PlantFacts, awaited, hardest, wait
from service.reference.loader import shipped

PESTS = {code: plain(asdict(pest)) for code, pest in shipped().pests.items()}
STANDARD = shipped().policies["standard"]
POT = PlantFacts("stem_rosette", "pot", kept_in_wool=False, outdoor=False)


def waited(plant: PlantFacts = POT, findings: Any = (), *, treated: bool = True) -> Wait:
    return wait(STANDARD, PESTS, plant, findings, (), treated=treated, detection=shipped().detection)


@pytest.mark.parametrize(
    ("treated", "findings", "factor"),
    [
        (True, [], 1.5),
        (True, [("bladder_snail", "egg", 0)], 1.5),
        (True, [("bladder_snail", "adult", 2)], 1.5),
        (True, [("bladder_snail", "egg", 3)], 1.7),
        (False, [], 1.7),
    ],
)
def test_untreated_lots_and_those_with_living_eggs_wait_longer(
    treated: bool, findings: list[tuple[str, str, int]], factor: float
) -> None:
    assert waited(findings=findings, treated=treated).factor == factor


def test_three_snails_are_always_waited_for_and_others_when_they_were_found() -> None:
    findings = [("planarian", "adult", 1), ("gilled_snail", "juvenile", 0)]
    assert [found.pest for found in waited(findings=findings).awaited] == [
        "bladder_snail",
        "ramshorn_snail",
        "pond_snail",
        "planarian",
        "gilled_snail",
    ]


@pytest.mark.parametrize("pest", ["trumpet_snail", "hydra", "nymph", "apple_snail", "ostracod", "not_a_pest"])
def test_live_bearers_and_others_without_eggs_that_hatch_in_tubs_are_not_waited_for(pest: str) -> None:
    assert awaited([], PESTS, [(pest, "adult", 1)]) == ()


def test_the_figures_are_those_of_the_catalogue() -> None:
    pond = awaited(["pond_snail"], PESTS, [])[0]
    assert pond.development.thermal_constant_dd == 176  # 16 days at 20 °C, threshold 9 °C
    assert pond.development.lower_threshold_range == (5.0, 9.5)
    assert not isinstance(pond.visibility, timedelta)
    assert (pond.visibility.lower_threshold_c, pond.visibility.thermal_constant_dd) == (11.0, 111.0)
    assert awaited(["planarian"], PESTS, [])[0].visibility == timedelta(days=3)


@pytest.mark.parametrize(("outdoor", "days"), [(False, 14), (True, 35)])
def test_plants_grown_outdoors_stay_five_weeks(outdoor: bool, days: int) -> None:
    plant = PlantFacts("stem_rosette", "pot", kept_in_wool=False, outdoor=outdoor)
    assert waited(plant).floor == timedelta(days=days)


@pytest.mark.parametrize(
    ("look_class", "unit", "wool", "sensitivity", "water_counts"),
    [
        ("broad_leaf", "pot", False, 0.8, False),
        ("stem_rosette", "bunch", False, 0.6, False),
        ("broad_leaf", "pot", True, 0.35, False),  # wool hides as moss does
        ("moss_fine", "pot", False, 0.35, True),
        ("stem_rosette", "portion", False, 0.6, True),
        ("broad_leaf", "mat", False, 0.8, True),
    ],
)
def test_how_well_eyes_find_a_juvenile_depends_on_the_plant(
    look_class: str, unit: str, wool: bool, sensitivity: float, water_counts: bool
) -> None:
    looks = waited(PlantFacts(look_class, unit, kept_in_wool=wool, outdoor=False)).looks
    assert (looks.sensitivity, looks.water_counts) == (sensitivity, water_counts)


def test_a_policy_whose_pests_no_look_is_known_for_takes_its_own_sensitivity() -> None:
    scope = STANDARD.scope.__class__(pests=("hair_algae",), source="a test", grade="assumption")
    odd = STANDARD.__class__(**{**vars(STANDARD), "scope": scope})
    found = wait(odd, PESTS, POT, (), (), treated=True, detection=shipped().detection)
    assert found.looks.sensitivity == STANDARD.sampling.eyes_sensitivity


def test_of_several_kinds_the_one_that_hides_most_counts() -> None:
    """That moss hides most is common practice; the figures are the reference data's."""
    detection = shipped().detection
    assert hardest(["broad_leaf", "moss_fine", "stem_rosette"], detection) == "moss_fine"
    assert hardest(["broad_leaf", "stem_rosette"], detection) == "stem_rosette"


def test_trumpet_snails_are_waited_for_as_young_and_baited_for_on_three_nights() -> None:
    """Decision 11; three nights are common practice, no source."""
    assert (waited().born, waited().night_baits) == ((), 0)
    found = waited(findings=[("trumpet_snail", "adult", 1)])
    [young] = found.born
    assert (young.pest, found.night_baits) == ("trumpet_snail", 3)
    assert not isinstance(young.visibility, timedelta)
    assert (young.visibility.thermal_constant_dd, young.visibility.optimum_c) == (111.0, 28.0)
