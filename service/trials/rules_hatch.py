"""How many egg masses hatched day by day, against what the temperature log makes one expect."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from service.science.development import Development, share_hatched, share_hatched_of_any_age
from service.science.evidence import sensitivity_found
from service.science.proportions import Interval
from service.trials.rules_known import Known, living

OVER = 0.99  # share of fresh eggs that should have hatched before unhatched ones count as dead
Warmth = Callable[[int], float | None]  # degree-days since the trial's start by its day; None without a log


@dataclass(frozen=True)
class HatchPoint:
    """One day of one arm: masses hatched of those of day 0, and the shares expected untreated.

    `fresh`: had all been laid on day 0; `any_age`: had they been of any age then. None without a log.
    """

    day: int
    hatched: int
    masses: int
    fresh: float | None
    any_age: float | None


@dataclass(frozen=True)
class Eye:
    """One observer's eye: dummies hidden from it and found."""

    observer: str
    hidden: int
    found: int
    sensitivity: Interval


def hatch_points(
    known: Known,
    labels_by_tub: Sequence[Sequence[str]],
    pest: str,
    development: Development | None,
    warmth: Sequence[Warmth],
) -> list[HatchPoint]:
    """The hatch curve of one arm: `labels_by_tub` and `warmth` go tub by tub."""
    counts = [
        [days for label in labels for days in (known.counts.get((label, pest, "egg"), {}),) if 0 in days]
        for labels in labels_by_tub
    ]
    days = sorted({day for tub in counts for subject in tub for day in subject})
    found = []
    for day in days:
        seen = [[_at(subject, day) for subject in tub] for tub in counts]
        masses = [sum(living(subject[0]) for subject in tub) for tub in counts]
        if not sum(masses):
            continue
        hatched = sum(sum(tub) for tub in seen)
        dd = [(many, spell(day)) for many, spell in zip(masses, warmth, strict=True) if many]
        found.append(
            HatchPoint(
                day,
                hatched,
                sum(masses),
                _expected(dd, development, share_hatched),
                _expected(dd, development, share_hatched_of_any_age),
            )
        )
    return found


def _at(subject: Mapping[int, Mapping[str, Any]], day: int) -> int:
    last = max(one for one in subject if one <= day)
    return int(subject[last]["hatched"] - subject[0]["hatched"])


def _expected(
    tubs: Sequence[tuple[int, float | None]],
    development: Development | None,
    share: Callable[[float, Development], float],
) -> float | None:
    if development is None:
        return None
    known = [(many, dd) for many, dd in tubs if dd is not None]
    if len(known) < len(tubs):
        return None
    return sum(many * share(dd, development) for many, dd in known) / sum(many for many, _ in known)


def is_over(points: Sequence[HatchPoint]) -> bool | None:
    """Whether fresh eggs should have hatched by the last look; None without a log."""
    if not points or points[-1].fresh is None:
        return None
    return points[-1].fresh >= OVER


def eyes(tests: Sequence[tuple[str, int, int]]) -> list[Eye]:
    """Each observer's sensitivity over all tests (observer, hidden, found) with dummies."""
    sums: dict[str, list[int]] = {}
    for observer, hidden, found in tests:
        total = sums.setdefault(observer, [0, 0])
        total[0], total[1] = total[0] + hidden, total[1] + found
    return [
        Eye(name, hidden, found, sensitivity_found(hidden, found))
        for name, (hidden, found) in sorted(sums.items())
    ]
