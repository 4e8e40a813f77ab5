"""A decision judged again from its inputs alone, as values and as what JSON keeps of them."""

import json
from dataclasses import replace
from datetime import timedelta
from typing import Any

from service.clearance.rules import Gate
from service.clearance.rules_plants import Died, Health, Listed
from service.clearance.rules_replay import Compared, Inputs, compared, replay
from service.clearance.rules_residue import ResidueFacts, Washed
from service.core.values import read, written
from service.quarantine.rules import ClockFacts, FindNearby, Kill
from service.quarantine.rules_freedom import Suspect
from service.quarantine.rules_release import Awaited, Log, Wait
from service.science.development import PLANARIAN_VISIBILITY, SNAIL_VISIBILITY
from tests.clearance.test_rules import CODES, LOOKS
from tests.quarantine.test_rules_freedom import EGGS, NO_ANIMAL, SNAIL, SUSPECT, day, eyes, log

SLOW = replace(SNAIL, lower_threshold_range=(8.0, 10.0))
INPUTS = Inputs(
    at=day(50),
    clock=ClockFacts(
        received_at=day(-3),
        kills=(Kill("copper-course", day(-0.5), day(0)),),
        finds=(day(-2),),
        nearby=(FindNearby(day(-1), day(-1.5)),),
        contacts=(day(-2.5),),
        adult_looks=(day(7),),
    ),
    wait=Wait(
        awaited=(
            Awaited("bladder_snail", SLOW, SNAIL_VISIBILITY),
            Awaited("planarian", SNAIL, PLANARIAN_VISIBILITY),
        ),
        factor=1.5,
        floor=timedelta(days=14),
        looks=LOOKS,
        coverage=0.9,
        longest_gap_h=72,
    ),
    log=Log(log(), 21.1),
    counted=[day(45), day(49)],
    repacked_at=None,
    suspects=[SUSPECT],
    seen=eyes(7, 14, 21, 28, 35),
    freedom_target=0.95,
    finished_protocols=["copper-course 1"],
    open_protocols=[],
    residue=ResidueFacts(day(0), (), 3, timedelta(days=7), 0.05),
    washed=Washed([(day(3), 1.0), (day(7), 0.95), (day(12), 1.0)], [(day(13), 0.02)]),
    hold_causes=[],
    regulated_lock=False,
    left=40,
    health=Health([Died(day(45), 2, 42)], 0.2, timedelta(days=14)),
    listed=Listed(
        "Anubias barteri", [{"list": "a list", "jurisdiction": "NZ", "date": "2026-01-01"}], None, None
    ),
)


def kept(inputs: Inputs) -> Inputs:
    return read(Inputs, json.loads(json.dumps(written(inputs))))


def judged(**changes: Any) -> dict[str, Gate]:
    return {gate.code: gate for gate in replay(replace(INPUTS, **changes))}


def test_every_gate_is_judged_from_the_clock_on() -> None:
    found = judged()
    assert list(found) == CODES
    assert all(gate.ok for gate in found.values()), found
    # The table of the formula: looks on days 7 to 35 at 21.1 °C leave a chance of 0.978722.
    assert found["freedom"].have == "97.9% (bladder snail)"


def test_what_json_keeps_gives_the_same_gates() -> None:
    soaked = replace(INPUTS.wait, half_credit=[(day(1), day(4))])
    alive = Suspect("hydra", NO_ANIMAL, None)
    days = Suspect("planarian", NO_ANIMAL, replace(EGGS, visibility=PLANARIAN_VISIBILITY))
    for inputs in (
        INPUTS,
        replace(INPUTS, wait=soaked, suspects=[SUSPECT, alive, days], repacked_at=day(44)),
        replace(INPUTS, at=day(20), hold_causes=["doubt"], log=Log(log(days=20), None)),
    ):
        assert replay(kept(inputs)) == replay(inputs)
        assert written(kept(inputs)) == written(inputs)


def test_one_input_changed_shuts_its_gate_and_no_other() -> None:
    for changes, shut in (
        ({"hold_causes": ["doubt"]}, ["no_hold"]),
        ({"seen": []}, ["freedom"]),
        ({"counted": [day(49)]}, ["clean_inspections"]),
        ({"left": 0}, ["quantity_left"]),
        ({"health": replace(INPUTS.health, lost_share_at_most=0.01)}, ["plants_healthy"]),
        ({"washed": Washed([], [])}, ["residue"]),
    ):
        assert [code for code, gate in judged(**changes).items() if not gate.ok] == shut


def test_a_clock_that_has_not_started_or_starts_later_has_no_chances() -> None:
    for clock in (ClockFacts(received_at=day(0)), replace(INPUTS.clock, finds=(day(51),))):
        found = judged(clock=clock)
        assert not found["hatch_out"].ok
        assert found["freedom"].have in {None, "no pest to look for"}


def test_gates_are_compared_by_code_and_one_that_is_missing_differs() -> None:
    then = [{"code": "no_hold", "ok": True}, {"code": "residue", "ok": True}, {"code": "former", "ok": True}]
    again = [{"code": "no_hold", "ok": True}, {"code": "residue", "ok": False}, {"code": "later", "ok": True}]
    found = compared(then, again)
    assert [(gate.code, gate.same) for gate in found] == [
        ("no_hold", True),
        ("residue", False),
        ("former", False),
        ("later", False),
    ]
    assert found[2] == Compared("former", then[2], None)
