"""What the reasons against a treatment mean to whoever chooses one."""

from collections.abc import Collection, Mapping, Sequence
from enum import StrEnum
from typing import Any


class Verdict(StrEnum):
    """Whether a written treatment may be begun."""

    FITS = "fits"
    TRY_FIRST = "try_first"
    OWNER_ONLY = "owner_only"
    BLOCKED = "blocked"

    @property
    def rank(self) -> int:
        """The order in which they are shown."""
        return list(Verdict).index(self)


ANSWERED = {
    "trial-stems-needed": Verdict.TRY_FIRST,
    "trial-stems-waiting": Verdict.TRY_FIRST,
    "plant-avoids-method": Verdict.OWNER_ONLY,
}


def verdict(reasons: Sequence[Mapping[str, Any]]) -> Verdict:
    """The gravest of the reasons; those that a sentence of a person answers are no block."""
    found = [ANSWERED.get(reason.get("code", ""), Verdict.BLOCKED) for reason in reasons]
    return max(found, key=lambda one: one.rank, default=Verdict.FITS)


def free_tub(tubs: Sequence[Mapping[str, Any]], taken: Collection[str | None]) -> Mapping[str, Any] | None:
    """The first tub in which nothing stands, else the first; None when there is none."""
    empty = [tub for tub in tubs if tub["id"] not in taken]
    return next(iter([*empty, *tubs]), None)


def grouped_credits(credits: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """What is killed how surely, the surest first; what has the same figure and source stands together."""
    found: dict[tuple[Any, ...], dict[str, set[str]]] = {}
    for credit in credits:
        key = (credit["kill"], credit["grade"], credit["source"])
        found.setdefault(key, {}).setdefault(credit["stage"], set()).add(credit["pest"])
    ordered = sorted(found.items(), key=lambda one: -one[0][0])
    return [
        {
            "kill": kill,
            "grade": grade,
            "source": source,
            "of": [(stage, sorted(pests)) for stage, pests in stages.items()],
        }
        for (kill, grade, source), stages in ordered
    ]
