"""Every gate of clearance, shut and open; residues, statuses and policies (decisions of the house)."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from service.clearance import rules
from service.clearance.rules import Gate, GateFacts
from service.clearance.rules_decision import (
    Override,
    no_longer_open,
    override_reasons,
    second_person_reasons,
    still_shut,
    used,
)
from service.clearance.rules_plants import Health, Listed
from service.clearance.rules_residue import ResidueFacts, Washed, clinging, residue_left
from service.clearance.rules_status import good_until, policy_reasons, speaking, status_of
from service.protocols.rules import Residue
from service.quarantine.rules_freedom import Freedom
from service.quarantine.rules_looks import LookPlan
from service.quarantine.rules_release import Projection, Wait
from service.reference.loader import shipped

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
        ("freedom", {"freedoms": [HIDDEN]}, "Waiting can't clear this lot (trumpet_snail", None),
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


COPPER = replace(NOTHING, lingering_since=day(0))
CHANGES = ((day(2), 1.0), (day(4), 0.5), (day(5), 0.9), (day(8), 1.0))


@pytest.mark.parametrize(
    ("changes", "copper", "at", "words", "when"),
    [
        ((), (), 10, "0 full water changes", None),
        (CHANGES[:3], ((day(9), 0.0),), 10, "2 full water changes", None),
        (((day(1), 1), (day(2), 1), (day(3), 1)), ((day(4), 0.0),), 5, "over 7 days", day(7)),
        (CHANGES, (), 10, "No copper reading", None),
        (CHANGES, ((day(7), 0.0),), 10, "No copper reading", None),
        (CHANGES, ((day(9), 0.02), (day(9.5), 0.06)), 10, "Copper reads 0.06 mg/L", None),
    ],
)
def test_copper_and_unknown_treatments_need_three_full_changes_over_a_week_and_a_reading(
    changes: Any, copper: Any, at: float, words: str, when: datetime | None
) -> None:
    left = residue_left(COPPER, Washed(changes, copper), day(at))
    assert left is not None
    assert words in left.detail
    assert left.when == when


def test_copper_is_gone_at_the_limit_of_the_policy() -> None:
    assert residue_left(COPPER, Washed(CHANGES, ((day(9), 0.05),)), day(10)) is None
    assert "3 full water changes over 7 days" in COPPER.needed


@pytest.mark.parametrize(
    ("residue", "clings"),
    [
        (Residue("chlorine", rinses=2), True),
        (Residue("chlorine", rinses=1, neutralised=True), False),
        (Residue("permanganate", rinses=3), False),
        (Residue("alum"), True),
        (Residue("alum", rinses=1), False),
        (Residue("peroxide", rinses=1), False),
        (Residue("copper"), False),  # judged by changes and readings
    ],
)
def test_baths_are_neutralised_and_rinsed_off(residue: Residue, clings: bool) -> None:
    assert bool(clinging([residue])) is clings


@pytest.mark.parametrize(
    ("stored", "expires", "held", "status"),
    [
        ("valid", 1, False, "valid"),
        ("valid", 1, True, "suspended"),
        ("valid", 0, True, "expired"),
        ("valid", -1, False, "expired"),
        ("revoked", 1, True, "revoked"),
        ("superseded", -1, False, "superseded"),
    ],
)
def test_the_status_of_a_certificate_is_that_of_the_day(
    stored: str, expires: float, held: bool, status: str
) -> None:
    assert status_of(stored, day(expires), day(0), held=held) == status


STANDARD = shipped().policies["standard"]


@pytest.mark.parametrize(
    ("section", "changes", "pointer"),
    [
        ("scope", {"pests": ("bladder_snail", "unicorn")}, "#/scope/pests"),
        ("scope", {"pests": ()}, "#/scope/pests"),
        ("sampling", {"confidence": 1.0}, "#/sampling/confidence"),
        ("sampling", {"confidence": 0.0}, "#/sampling/confidence"),
        ("sampling", {"detection_level": 0.0}, "#/sampling/detection_level"),
        ("sampling", {"eyes_sensitivity": 0.0}, "#/sampling/eyes_sensitivity"),
        ("hatch", {"factor_treated": 0.9}, "#/hatch/factor_treated"),
        ("hatch", {"factor_untreated": 1.4}, "#/hatch/factor_untreated"),
    ],
)
def test_figures_that_cannot_be_used_are_named(section: str, changes: Any, pointer: str) -> None:
    odd = replace(STANDARD, **{section: replace(getattr(STANDARD, section), **changes)})
    assert [reason.pointer for reason in policy_reasons(odd, shipped().pests)] == [pointer]


def test_the_shipped_policies_can_be_used() -> None:
    for policy in shipped().policies.values():
        assert policy_reasons(policy, shipped().pests) == []


SHUT = rules.Gate("residue", ok=False, needed=None, have=None, reason="Copper.")
LOCKED = rules.no_regulated_pest(regulated_lock=True)
FINE = rules.no_hold([])


def word(gate: str) -> Override:
    return Override(gate, "I say so", "owner")


def test_overrides_open_what_is_shut_but_never_the_lock() -> None:
    gates = [SHUT, LOCKED, FINE]
    words = [word("residue"), word("no_regulated_pest"), word("no_hold")]
    assert still_shut(gates, words) == [LOCKED]
    assert used(words, gates) == [word("residue")]
    assert still_shut(gates, []) == [SHUT, LOCKED]


@pytest.mark.parametrize(
    ("words", "codes"),
    [
        (["residue", "no_hold"], []),
        (["residue", "residue"], ["named-twice"]),
        (["no_regulated_pest", "colour"], ["never-overridden", "unknown-gate"]),
    ],
)
def test_overrides_that_cannot_be_are_named(words: list[str], codes: list[str]) -> None:
    found = override_reasons([word(gate) for gate in words], [SHUT, LOCKED, FINE])
    assert [reason.code for reason in found] == codes


def test_a_decision_is_judged_again_by_the_gates_that_looks_open_and_that_held_then() -> None:
    now = [Gate(code, ok=code == "freedom", needed=1, have=0) for code in CODES]
    then = [{"code": code, "ok": code != "hatch_out"} for code in CODES]
    assert [found.code for found in no_longer_open(then, now)] == [
        "visibility",
        "floor_days",
        "clean_inspections",
    ]
    assert no_longer_open([], now) == []


def test_who_proposed_does_not_confirm() -> None:
    assert [reason.code for reason in second_person_reasons(same_person=True)] == ["second-person-needed"]
    assert second_person_reasons(same_person=False) == []


def test_a_lot_is_good_until_the_first_of_certificate_and_last_look() -> None:
    two_weeks = timedelta(days=14)
    assert good_until(day(30), [day(2), day(9)], day(10), two_weeks) == day(23)
    assert good_until(day(20), [day(9)], day(10), two_weeks) == day(20)
    assert good_until(day(30), [], day(10), two_weeks) == day(10)
    assert speaking([day(1)], [{"gate": "residue"}], day(10)) == [day(1)]
    assert speaking([day(1)], [{"gate": "clean_inspections"}], day(10)) == [day(1), day(10)]
