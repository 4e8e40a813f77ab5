"""Which pests may be in a lot, and how many of them are expected."""

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from service.inspections.rules import Find, Look
from service.quarantine.rules_freedom import Seen, Suspect
from service.quarantine.rules_prior import Record
from service.quarantine.rules_suspects import Case, arrival_record, seen, suspects
from service.quarantine.rules_wait import PlantFacts
from service.reference.loader import shipped
from service.reference.policies import Policy

START = datetime(2026, 3, 2, 9, tzinfo=UTC)
STANDARD: Policy = shipped().policies["standard"]
DETECTION = shipped().detection
PRIOR = -math.log(0.9)  # one infested lot in ten before anything is known
DEVELOPMENT = {
    "lower_threshold_c": 9.0,
    "thermal_constant_dd": 136.0,
    "anchor_days": 8.5,
    "anchor_c": 25.0,
    "threshold_range": {"low_c": 5.0, "high_c": 10.0},
    "limits": {"optimum_c": 28.0, "maximum_c": 34.0},
}
SNAIL = {
    "resets_clock": True,
    "regulated": "none",
    "hatch_gate": True,
    "development": DEVELOPMENT,
    "visibility": {"days": None, "degree_days": 111.0, "threshold_c": 11.0},
}
BARE = {**SNAIL, "hatch_gate": False, "development": None, "visibility": None}
PESTS: dict[str, dict[str, Any]] = {
    **dict.fromkeys(("bladder_snail", "ramshorn_snail", "pond_snail"), SNAIL),
    "trumpet_snail": BARE,
    "hydra": BARE,
    "leech": BARE,
    "apple_snail": {**SNAIL, "regulated": "notifiable"},
    "copepod": {**BARE, "resets_clock": False},
}
BROAD = PlantFacts("broad_leaf", "pot", kept_in_wool=False, outdoor=False)


def day(days: float) -> datetime:
    return START + timedelta(days=days)


def look(at: float, *findings: Find, **changes: Any) -> Look:
    made = Look(str(at), day(at), "eyes", 20, 20, True, not findings, findings, False)
    return replace(made, **changes)


def found(pest: str, stage: str, live: int, *, removed: bool = True) -> Find:
    return Find(pest, stage, live, 0, removed)


def case(**changes: Any) -> Case:
    return replace(Case(BROAD, START, [], lambda _pest, _stage, _since: 0.0, {}), **changes)


def judged(**changes: Any) -> dict[str, Suspect]:
    return {one.pest: one for one in suspects(STANDARD, PESTS, DETECTION, case(**changes))}


def test_the_policy_s_scope_is_always_looked_for() -> None:
    assert list(judged()) == list(STANDARD.scope.pests)


def test_what_was_found_and_what_the_supplier_ever_sent_is_looked_for_too() -> None:
    looks = [look(0, found("trumpet_snail", "adult", 1)), look(1, found("leech", "adult", 0))]
    records = {"hydra": Record(0.5, 3), "leech": Record(0, 4)}
    assert set(judged(looks=looks, records=records)) - set(STANDARD.scope.pests) == {"trumpet_snail", "hydra"}


def test_harmless_and_notifiable_ones_and_those_no_look_is_meant_for_are_left_out() -> None:
    looks = [look(0, *(found(pest, "adult", 1) for pest in ("copepod", "apple_snail", "leech", "stranger")))]
    assert list(judged(looks=looks)) == list(STANDARD.scope.pests)


def test_without_a_find_the_supplier_s_record_says_how_many() -> None:
    snail = judged(records={"pond_snail": Record(1, 9)})
    assert snail["bladder_snail"].animals.expected == pytest.approx(PRIOR)
    assert snail["pond_snail"].animals.expected == pytest.approx(-math.log(1 - 2 / 20))
    assert snail["pond_snail"].animals.since == START
    eggs = snail["pond_snail"].eggs
    assert eggs is not None
    assert eggs.expected == pytest.approx(-math.log(0.9))


def test_a_kill_counts_for_its_stage_and_animals_get_that_of_the_hardiest() -> None:
    kills = {"egg": 0.5, "juvenile": 0.6, "adult": 0.9}
    asked: list[tuple[str, datetime | None]] = []

    def kill_since(pest: str, stage: str, since: datetime | None) -> float:
        asked.append((pest, since))
        return kills[stage]

    suspect = judged(kill_since=kill_since)["pond_snail"]
    assert suspect.animals.expected == pytest.approx(PRIOR * 0.4)
    assert suspect.eggs is not None
    assert suspect.eggs.expected == pytest.approx(PRIOR * 0.5)
    assert {since for _, since in asked} == {None}


def test_after_a_find_the_row_starts_anew_from_it() -> None:
    """Three masses picked off a broad leaf (0.8 seen), two adults left, one taken (0.8 as juveniles)."""
    since: list[datetime | None] = []

    def kill_since(_pest: str, _stage: str, begun: datetime | None) -> float:
        since.append(begun)
        return 0.5

    finds = (
        found("pond_snail", "egg", 3),
        found("pond_snail", "adult", 2, removed=False),
        found("pond_snail", "juvenile", 1),
        found("hydra", "adult", 9),
    )
    looks = [look(1, found("pond_snail", "egg", 50)), look(4, *finds), look(6)]
    suspect = judged(looks=looks, kill_since=kill_since, records={"pond_snail": Record(9, 1)})["pond_snail"]
    assert suspect.animals.since == day(4)
    assert suspect.animals.expected == pytest.approx((2 + 1.5 * 0.25) * 0.5)
    assert suspect.eggs is not None
    assert suspect.eggs.expected == pytest.approx((3.5 * 0.25 + 3) * 0.5)
    assert day(4) in since


def test_a_find_by_a_look_that_hardly_sees_a_stage_says_little_of_it() -> None:
    """Bait draws no eggs: as if it saw one in twenty."""
    bait = look(4, found("pond_snail", "adult", 1), method="bait_night", full=False)
    suspect = judged(looks=[bait])["pond_snail"]
    assert suspect.eggs is not None
    assert suspect.eggs.expected == pytest.approx(0.5 * 19 + 1)
    of_one = 1 - 0.3 ** (1 / 3)
    assert suspect.animals.expected == pytest.approx(1.5 * (1 / of_one - 1))


def test_a_pest_whose_eggs_no_look_is_meant_for_counts_those_left() -> None:
    finds = (found("hydra", "egg", 4, removed=False), found("hydra", "egg", 7), found("hydra", "adult", 1))
    suspect = judged(looks=[look(0, *finds)])["hydra"]
    assert suspect.eggs is None
    assert suspect.animals.expected == pytest.approx(1.5 * (1 / 0.5 - 1))


def test_plants_in_wool_hide_as_moss_does() -> None:
    plain, wool = judged(), judged(plant=replace(BROAD, kept_in_wool=True))
    assert plain["pond_snail"].animals.sight.eyes == 0.8
    assert wool["pond_snail"].animals.sight.eyes == 0.35
    eggs = wool["pond_snail"].eggs
    assert eggs is not None
    assert [sight.eyes for sight in eggs.sights] == [0.25, 0.1, 0.35]
    assert [sight.never_seen for sight in eggs.sights] == [0.05, 0.05, 0.01]


def test_eggs_wait_by_the_figures_of_their_pest() -> None:
    eggs = judged()["ramshorn_snail"].eggs
    assert eggs is not None
    assert (eggs.development.thermal_constant_dd, eggs.development.lower_threshold_range) == (136, (5, 10))
    assert not isinstance(eggs.visibility, timedelta)
    assert eggs.visibility.thermal_constant_dd == 111


def test_only_clean_looks_prove_something_and_eyes_on_an_unknown_share_nothing() -> None:
    looks = [
        look(1),
        look(2, full=False, sample_size=5),
        look(3, full=False, sample_size=30),
        look(4, full=False, lot_size=None),
        look(5, method="bait_night", full=False, lot_size=None, whole_tub=True),
        look(6, found("hydra", "adult", 1)),
        look(7, method="strain", full=False, lot_size=None),
    ]
    assert seen(looks) == [
        Seen(day(1), "eyes", 1.0),
        Seen(day(2), "eyes", 0.25),
        Seen(day(3), "eyes", 1.0),
        Seen(day(4), "eyes", 0.0),
        Seen(day(5), "bait", 0.0),
        Seen(day(7), "strain", 0.0),
    ]


def test_a_lot_that_came_infested_stands_for_those_a_look_misses() -> None:
    snail = found("pond_snail", "adult", 1)
    arrivals = [("broad_leaf", look(0, snail)), *[("broad_leaf", look(0))] * 4]
    record = arrival_record(arrivals, "pond_snail", DETECTION)
    assert (record.infested, record.clean) == pytest.approx((1.25, 3.75))
    assert arrival_record(arrivals, "hydra", DETECTION) == Record(0, 5)
    assert arrival_record([], "hydra", DETECTION) == Record(0, 0)


def test_more_lots_than_came_are_never_infested() -> None:
    half_seen = look(0, found("pond_snail", "adult", 1), full=False, sample_size=2)
    assert arrival_record([("moss_fine", half_seen)], "pond_snail", DETECTION) == Record(1, 0)


@pytest.mark.parametrize("pest", ["leech", "pond_snail"])
def test_a_find_of_what_no_look_is_meant_for_is_one_lot(pest: str) -> None:
    """No sensitivity is known for leeches; eyes on an unknown share of plants have none."""
    blind = look(0, found(pest, "adult", 1), full=False, lot_size=None)
    arrivals = [
        ("broad_leaf", blind),
        ("broad_leaf", look(0)),
        ("broad_leaf", look(0, found(pest, "adult", 0))),
    ]
    assert arrival_record(arrivals, pest, DETECTION) == Record(1, 2)


def test_opened_cups_come_with_a_low_prior_and_their_sealed_look_says_nothing_any_more() -> None:
    opened = replace(BROAD, opened_cups=True)
    expected = judged(plant=opened)["pond_snail"].animals.expected
    assert expected == pytest.approx(-math.log(0.99))  # one lot in a hundred: assumption of the house
    assert seen([look(1, method="sealed_cup", full=True)]) == []
