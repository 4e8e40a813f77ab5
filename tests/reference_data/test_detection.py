"""Sensitivities of looks (all assumptions): complete, and in the order that practice would expect."""

import pytest

from service.reference.detection import DetectionRow
from service.reference.loader import shipped

DETECTION = shipped().detection
ALL_STAGES = [
    (pest.code, stage)
    for pest in shipped().pests.values()
    if pest.category == "hitch_hiker"
    for stage in pest.stages
]


@pytest.mark.parametrize(("pest", "stage"), [pair for pair in ALL_STAGES if pair != ("nymph", "egg")])
def test_every_stage_of_a_hitch_hiker_has_its_row(pest: str, stage: str) -> None:
    assert DETECTION.row(pest, stage) is not None


def test_eggs_inside_plant_tissue_are_found_by_no_look() -> None:
    assert DETECTION.row("nymph", "egg") is None


def test_no_two_rows_speak_of_the_same_stage() -> None:
    said = [(pest, stage) for row in DETECTION.rows for pest in row.pests for stage in row.stages]
    assert len(said) == len(set(said))
    assert set(said) <= set(ALL_STAGES)


@pytest.mark.parametrize("row", DETECTION.rows, ids=lambda row: row.code)
def test_moss_hides_more_than_leaves(row: DetectionRow) -> None:
    assert row.eyes["moss_fine"] < row.eyes["stem_rosette"] < row.eyes["broad_leaf"]


@pytest.mark.parametrize("row", DETECTION.rows, ids=lambda row: row.code)
def test_the_never_seen_share_is_one_in_twenty_unless_it_crawls_in_the_open(row: DetectionRow) -> None:
    crawls = row.code in {"snail-adult", "snail-juvenile"}
    assert row.never_seen_share == (0.01 if crawls else 0.05)


def test_bait_sees_nothing_that_does_not_move() -> None:
    eggs = [row for row in DETECTION.rows if "egg" in row.stages]
    assert {row.bait for row in eggs} == {0.0}


def test_wool_hides_as_moss_does() -> None:
    assert DETECTION.kept_in_wool == "moss_fine"


def test_a_look_takes_twenty_to_sixty_seconds() -> None:
    # 20-60 s per bunch: common practice, no source
    assert sorted(DETECTION.look_time.seconds_per_unit.values()) == [20, 40, 60]
