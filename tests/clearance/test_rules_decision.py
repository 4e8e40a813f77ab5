"""Who may decide what: overrides, the second person, and what is judged again."""

import pytest

from service.clearance import rules
from service.clearance.rules import Gate
from service.clearance.rules_decision import (
    Override,
    no_longer_open,
    override_reasons,
    second_person_reasons,
    still_shut,
    used,
)
from tests.clearance.test_rules import CODES

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
