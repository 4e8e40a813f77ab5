"""What a look says of the parts of a lot."""

from collections.abc import Mapping, Sequence
from typing import Any

from service.core.reasons import Reason
from service.inspections.rules import LookMethod
from service.lots.rules_strata import Strata


def in_all(asked: Sequence[Mapping[str, Any]], sample_size: int | None) -> int | None:
    """How many were looked at: as said, or the sum over the parts."""
    return sum(part["looked_at"] for part in asked) if asked and sample_size is None else sample_size


def looked_at_reasons(
    asked: Sequence[Mapping[str, Any]],
    strata: Strata,
    sample_size: int | None,
    method: LookMethod,
    units_each: int = 1,
) -> list[Reason]:
    """What is wrong with the parts of a look: unknown, twice, more than there are, or another sum."""
    if not asked:
        return []
    if method is not LookMethod.EYES:
        return [Reason("validation", "Only looks by eye are at parts of a lot.", pointer="#/strata")]
    known = {part["name"]: part["quantity"] for part in strata}
    reasons, seen = [], set()
    for place, part in enumerate(asked):
        name, pointer = part["name"], f"#/strata/{place}"
        if name not in known or name in seen:
            detail = "This part is named twice." if name in seen else _unknown(known)
            reasons.append(Reason("unknown-stratum", detail, pointer=f"{pointer}/name"))
        elif known[name] is not None and part["looked_at"] > known[name] * units_each:
            most = known[name] * units_each
            detail = f"There were only {most} of this part."
            reasons.append(
                Reason("more-than-there-is", detail, most, part["looked_at"], f"{pointer}/looked_at")
            )
        seen.add(name)
    total = sum(part["looked_at"] for part in asked)
    if not reasons and sample_size is not None and total != sample_size:
        detail = f"The parts make {total}, the sample {sample_size}."
        reasons.append(Reason("validation", detail, sample_size, total, "#/sample_size"))
    return reasons


def _unknown(known: Mapping[str, Any]) -> str:
    return f"Unknown part. Use one of: {', '.join(known)}." if known else "This lot has no parts."
