"""Who may decide what: gates that an owner overrides, and the second person of a four-eyes policy."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from service.clearance.rules import Gate
from service.core.reasons import Reason

NEVER = frozenset({"no_regulated_pest", "quantity_left"})  # the law's lock, and nothing to decide on
BY_LOOKS = frozenset({"hatch_out", "visibility", "floor_days", "clean_inspections", "freedom"})
"""The gates that looks open: by what they count for, and by the clock that clean ones may start."""


@dataclass(frozen=True)
class Override:
    """An owner's word that a lot is cleared although a gate is shut; printed on the statement."""

    gate: str
    reason: str
    by: str


def override_reasons(overrides: Sequence[Override], gates: Sequence[Gate]) -> list[Reason]:
    """What is wrong with overrides: a gate that is none or named twice, or one that nobody may override."""
    known = {gate.code for gate in gates}
    found = []
    for n, override in enumerate(overrides):
        pointer = f"#/overrides/{n}/gate"
        if override.gate not in known:
            detail = f"There is no such gate. Use one of: {' '.join(sorted(known - NEVER))}."
            found.append(Reason("unknown-gate", detail, pointer=pointer))
        elif override.gate in NEVER:
            found.append(Reason("never-overridden", "Nobody may override this gate.", pointer=pointer))
        elif override.gate in {other.gate for other in overrides[:n]}:
            found.append(Reason("named-twice", "This gate is named twice.", pointer=pointer))
    return found


def used(overrides: Sequence[Override], gates: Sequence[Gate]) -> list[Override]:
    """The overrides of gates that are shut; one of an open gate is not needed and not kept."""
    shut = {gate.code for gate in gates if not gate.ok} - NEVER
    return [override for override in overrides if override.gate in shut]


def still_shut(gates: Sequence[Gate], overrides: Sequence[Override]) -> list[Gate]:
    """The gates that keep a lot from being cleared."""
    overridden = {override.gate for override in overrides} - NEVER
    return [gate for gate in gates if not gate.ok and gate.code not in overridden]


def no_longer_open(then: Sequence[Mapping[str, Any]], now: Sequence[Gate]) -> list[Gate]:
    """The gates opened by looks that held at a decision and do not hold when it is judged again."""
    held = {gate["code"] for gate in then if gate["ok"]} & BY_LOOKS
    return [gate for gate in now if not gate.ok and gate.code in held]


def second_person_reasons(*, same_person: bool) -> list[Reason]:
    """Why a proposal may not be confirmed: who proposed it does not confirm it."""
    if not same_person:
        return []
    detail = (
        "This policy asks for two people: somebody else than who proposed the clearance must confirm it. "
        "A token made for nobody counts as whoever made it: make tokens for people (person_id)."
    )
    return [Reason("second-person-needed", detail)]
