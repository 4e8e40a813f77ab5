"""The rules of looks, as tables."""

from typing import Any

import pytest

from service.inspections import rules
from service.inspections.rules import Find, LookMethod, Sample, Units

EYES, STRAIN, BAIT, BAIT_NIGHT, SEALED_CUP = LookMethod
POTS, MOSS = Units(40, countable=True), Units(40, countable=False)


@pytest.mark.parametrize(
    ("left", "unit", "stems", "untied", "units"),
    [
        # decision 27: stems once lead and band are off, bunches before
        (8, "bunch", 6, True, 48),
        (8, "bunch", 6, False, 8),
        (8, "bunch", None, True, 8),
        (40, "pot", None, False, 40),
        (40, "pot", 6, True, 40),
    ],
)
def test_untied_bunches_are_counted_by_stems(
    left: int, unit: str, stems: int | None, untied: bool, units: int
) -> None:
    assert rules.units_of(left, unit, stems, untied=untied) == units


@pytest.mark.parametrize(
    ("unit", "look_class", "countable"),
    [
        # decision 28
        ("pot", "broad_leaf", True),
        ("bunch", "stem_rosette", True),
        ("pot", "moss_fine", False),
        ("portion", "broad_leaf", False),
        ("mat", "stem_rosette", False),
    ],
)
def test_moss_portions_and_mats_are_not_counted(unit: str, look_class: str, countable: bool) -> None:
    assert rules.is_countable(unit, look_class) is countable


@pytest.mark.parametrize(
    ("method", "of_tub", "whole"),
    [
        (EYES, False, False),
        (SEALED_CUP, False, False),
        (EYES, True, True),
        (STRAIN, False, True),
        (BAIT_NIGHT, True, True),
    ],
)
def test_strain_and_bait_see_the_whole_tub(method: LookMethod, of_tub: bool, whole: bool) -> None:
    assert rules.is_whole_tub(method, of_tub=of_tub) is whole


@pytest.mark.parametrize(
    ("method", "asked", "unit", "units", "of_tub", "sample"),
    [
        (EYES, 40, "unit", POTS, False, Sample(40, "unit", 40, full=True)),
        (SEALED_CUP, 40, "unit", POTS, False, Sample(40, "unit", 40, full=True)),
        (EYES, 39, "unit", POTS, False, Sample(39, "unit", 40, full=False)),
        (EYES, None, "unit", POTS, True, Sample(40, "unit", 40, full=True)),
        (EYES, None, "unit", Units(0, countable=True), True, Sample(0, "unit", 0, full=False)),
        (EYES, 40, "unit", MOSS, False, Sample(40, "unit", None, full=True)),
        (EYES, 400, "g", MOSS, False, Sample(400, "g", None, full=False)),
        (STRAIN, None, "unit", POTS, True, Sample(0, "unit", None, full=False)),
        (BAIT, 3, "unit", POTS, False, Sample(3, "unit", None, full=False)),
    ],
)
def test_what_a_sample_is(
    method: LookMethod, asked: int | None, unit: Any, units: Units, of_tub: bool, sample: Sample
) -> None:
    assert rules.sample_of(method, asked, unit, units, of_tub=of_tub) == sample


@pytest.mark.parametrize(
    ("method", "asked", "unit", "units", "of_tub", "codes"),
    [
        (EYES, 40, "unit", POTS, False, []),
        (EYES, 41, "unit", POTS, False, ["more-than-there-is"]),
        (EYES, None, "unit", POTS, False, ["sample-size-missing"]),
        (EYES, 0, "unit", POTS, False, ["sample-size-missing"]),
        (EYES, None, "unit", POTS, True, []),
        (EYES, 400, "g", POTS, False, ["unit"]),
        (EYES, 400, "g", MOSS, False, []),
        (STRAIN, None, "unit", POTS, False, []),
    ],
)
def test_what_is_wrong_with_a_sample(
    method: LookMethod, asked: int | None, unit: Any, units: Units, of_tub: bool, codes: list[str]
) -> None:
    assert [r.code for r in rules.sample_reasons(method, asked, unit, units, of_tub=of_tub)] == codes


def find(pest: str, live: int, dead: int = 0) -> Find:
    return Find(pest, "adult", live, dead, removed=False)


def test_a_finding_names_a_known_pest_and_a_count() -> None:
    wrong = [find("hydra", 1), find("dragon", 1), find("hydra", 0)]
    pointers = [reason.pointer for reason in rules.finding_reasons(wrong, {"hydra"})]
    assert pointers == ["#/findings/1/pest", "#/findings/2"]


@pytest.mark.parametrize(
    ("findings", "clean"),
    [
        ([], True),
        ([find("hydra", 0, 3)], True),
        ([find("ostracod", 30)], True),
        ([find("ostracod", 30), find("hydra", 1)], False),
    ],
)
def test_only_a_live_pest_that_resets_the_clock_is_not_clean(findings: list[Find], clean: bool) -> None:
    assert rules.is_clean(findings, {"hydra"}) is clean
    assert rules.found_alive(findings, {"hydra"}) is not clean


@pytest.mark.parametrize(
    ("voided", "regulated", "same_person", "codes"),
    [
        (False, False, True, []),
        (False, True, False, []),
        (False, True, True, ["second-person-needed"]),
        (True, True, True, ["already-voided"]),
    ],
)
def test_a_regulated_find_is_voided_by_a_second_person(
    voided: bool, regulated: bool, same_person: bool, codes: list[str]
) -> None:
    found = rules.void_reasons(voided=voided, regulated=regulated, same_person=same_person)
    assert [reason.code for reason in found] == codes


def test_a_look_takes_45_seconds_a_unit() -> None:
    # own assumption, no source
    assert [rules.minutes(units) for units in (0, 1, 40, 41)] == [0, 1, 30, 31]
    assert rules.minutes(40, 3) == 90
