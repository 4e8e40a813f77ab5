"""Every gate of clearance, shut and open; residues, statuses and policies (decisions of the house)."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from service.clearance import rules
from service.clearance.rules import Gate, GateFacts
from service.clearance.rules_animals import AnimalTest
from service.clearance.rules_plants import Health, Listed
from service.clearance.rules_residue import ResidueFacts, Washed
from service.quarantine.rules_freedom import Freedom
from service.quarantine.rules_looks import LookPlan
from service.quarantine.rules_release import Projection, Wait

START = datetime(2026, 3, 2, 9, tzinfo=UTC)


def day(days: float) -> datetime:
    return START + timedelta(days=days)


LOOKS = LookPlan(60, Decimal("0.05"), Decimal("0.95"), 0.6, False, 2, timedelta(days=3), timedelta(days=14))
WAIT = Wait((), 1.5, timedelta(days=14), LOOKS, 0.9, 72)
OPEN = Projection(
    clock_started_at=day(0),
    hatched_out_at=day(22),
    visible_at=day(33),
    floor_at=day(14),
    release_at=day(37),
    credited_share=0.99,
    longest_gap_h=6,
    looks_made=True,
)
NO_CLOCK = Projection(None, next_look_at=day(3), reasons=("Two clean looks are owed.",))
NOTHING = ResidueFacts(None, (), 3, timedelta(days=7), 0.05)
SURE = Freedom("pond_snail", 0.97, 0.99, 0.03, 0.05)
DOUBT = Freedom("planarian", 0.81, 0.96, 0.212, 0.05)
HIDDEN = Freedom("trumpet_snail", 0.8, 0.9499, 0.22, 0.05)
FACTS = GateFacts(
    projection=OPEN,
    wait=WAIT,
    finished_protocols=["copper-course 1"],
    open_protocols=[],
    clean_looks=2,
    residue=NOTHING,
    washed=Washed((), ()),
    hold_causes=[],
    regulated_lock=False,
    left=40,
    health=Health([], 0.2, timedelta(days=14)),
    listed=Listed("Anubias barteri", [], None, None),
    freedoms=[SURE],
    freedom_target=0.95,
)
CODES = [
    "protocol_done",
    "hatch_out",
    "visibility",
    "floor_days",
    "clean_inspections",
    "freedom",
    "residue",
    "temperature_log",
    "no_hold",
    "plants_healthy",
    "restricted_species",
    "no_regulated_pest",
    "quantity_left",
]


def gate(code: str, at: float = 40, **changes: Any) -> Gate:
    return next(found for found in rules.gates(replace(FACTS, **changes), day(at)) if found.code == code)


def test_all_gates_open_when_everything_was_done() -> None:
    found = rules.gates(FACTS, day(40))
    assert [one.code for one in found] == CODES
    assert rules.failing(found) == []


@pytest.mark.parametrize(
    ("code", "changes", "words", "when"),
    [
        ("protocol_done", {"finished_protocols": []}, "quarantine-only is enough", None),
        ("protocol_done", {"open_protocols": ["alum-soak 1"]}, "alum-soak 1 is not finished", None),
        ("hatch_out", {"projection": replace(OPEN, hatched_out_at=day(41))}, "Eggs may still", day(41)),
        ("hatch_out", {"projection": NO_CLOCK}, "Two clean looks are owed.", None),
        ("visibility", {"projection": replace(OPEN, visible_at=day(45))}, "too small", day(45)),
        ("visibility", {"projection": replace(OPEN, visible_at=None)}, "Not known yet.", None),
        ("floor_days", {"wait": replace(WAIT, floor=timedelta(days=50))}, "40 days of", day(14)),
        ("floor_days", {"projection": NO_CLOCK}, "Two clean looks are owed.", None),
        (
            "clean_inspections",
            {"projection": replace(OPEN, looks_made=False, next_look_at=day(33))},
            "is owed from 2026-04-04 09:00 UTC",
            day(33),
        ),
        ("clean_inspections", {"projection": NO_CLOCK}, "Two clean looks are owed.", day(3)),
        (
            "clean_inspections",
            {"projection": Projection(day(0), reasons=("Too cold.",))},
            "Too cold.",
            None,
        ),
        ("freedom", {"projection": NO_CLOCK}, "Two clean looks are owed.", None),
        ("freedom", {"freedoms": [SURE, DOUBT]}, "More clean looks are needed for planarian", None),
        ("freedom", {"freedoms": [SURE, DOUBT]}, "still have missed: 0.21", None),
        ("freedom", {"freedoms": [HIDDEN]}, "Waiting can't clear this lot (trumpet snail", None),
        ("residue", {"residue": replace(NOTHING, clings=["chlorine"])}, "chlorine", None),
        ("temperature_log", {"projection": replace(OPEN, credited_share=0.5)}, "Too little", None),
        ("temperature_log", {"projection": replace(OPEN, longest_gap_h=73)}, "Too little", None),
        ("temperature_log", {"projection": NO_CLOCK}, "Two clean looks are owed.", None),
        ("no_hold", {"hold_causes": ["complaint", "doubt"]}, "complaint, doubt", None),
        ("no_regulated_pest", {"regulated_lock": True}, "locked", None),
        ("quantity_left", {"left": 0}, "Nothing", None),
    ],
)
def test_a_shut_gate_says_why_and_when_it_opens(
    code: str, changes: dict[str, Any], words: str, when: datetime | None
) -> None:
    found = gate(code, **changes)
    assert not found.ok
    assert words in (found.reason or "")
    assert found.when == when
    [reason] = rules.failing([found])
    assert (reason.code, reason.needed, reason.have) == (code, found.needed, found.have)


@pytest.mark.parametrize("code", ["hatch_out", "visibility", "floor_days"])
def test_a_gate_of_time_is_shut_a_moment_before_and_open_at_its_moment(code: str) -> None:
    moment = {"hatch_out": 22.0, "visibility": 33.0, "floor_days": 14.0}[code]
    assert not gate(code, moment - 1e-6).ok
    assert gate(code, moment).ok


def test_the_chance_shown_is_that_of_the_least_favourable_pest() -> None:
    found = gate("freedom", freedoms=[replace(DOUBT, probability=0.955), SURE])
    assert (found.ok, found.have) == (True, "95.5% (planarian)")
    assert found.needed == "a chance of 95% that none is left, for each pest"


def test_the_target_itself_is_enough() -> None:
    assert gate("freedom", freedoms=[replace(SURE, probability=0.95)]).ok
    assert not gate("freedom", freedoms=[replace(SURE, probability=0.9499)]).ok


def test_a_cap_at_the_target_can_still_be_reached_by_waiting() -> None:
    found = gate("freedom", freedoms=[replace(DOUBT, highest=0.95)])
    assert "More clean looks" in (found.reason or "")


def test_a_lot_in_which_nothing_is_looked_for_has_nothing_to_prove() -> None:
    assert gate("freedom", freedoms=[]).ok


def test_of_sealed_cups_only_what_can_be_seen_is_asked() -> None:
    sealed = Projection(day(39), day(39), day(39), day(39), day(39), looks_made=True, sealed=True)
    bare = replace(FACTS, projection=sealed, finished_protocols=[], clean_looks=1, freedoms=[])
    found = rules.gates(bare, day(40))
    assert [one.code for one in found] == CODES
    assert rules.failing(found) == []
    assert {one.code for one in found if one.needed == "not asked of sealed cups"} == rules.UNASKED_OF_SEALED
    old = replace(sealed, looks_made=False, next_look_at=day(38))
    shut = next(one for one in rules.gates(replace(bare, projection=old), day(40)) if not one.ok)
    assert (shut.code, shut.needed) == ("clean_inspections", "every cup found sealed, not 14 days ago")


def test_animals_that_died_in_soak_water_shut_the_residue_gate() -> None:
    lived = AnimalTest("shrimp", 5, 5, day(30), day(33))
    assert (gate("residue", animals=lived).ok, gate("residue", animals=lived).have) == (True, lived.in_words)
    shut = gate("residue", animals=replace(lived, alive=4))
    assert (shut.ok, shut.needed) == (False, "animals that live in it")
    assert "Change the water" in str(shut.reason)
    lingering = replace(NOTHING, clings=["alum"])
    assert "alum" in str(gate("residue", residue=lingering, animals=replace(lived, alive=4)).reason)


def test_baits_overnight_that_are_owed_are_said() -> None:
    owing = replace(OPEN, looks_made=False, nights_made=False, next_look_at=day(41))
    shut = gate("clean_inspections", projection=owing, wait=replace(WAIT, night_baits=3))
    assert (shut.ok, shut.when) == (False, day(41))
    assert str(shut.reason).startswith("3 clean baits left overnight are owed")
