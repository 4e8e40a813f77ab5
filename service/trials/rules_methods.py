"""What each way of treating costs in material and hands, and what is to be minded with it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

ATTENDED = frozenset({"dip", "rinse", "neutralise"})  # somebody stands by as long as they last
SET_UP_MINUTES = 5.0  # to begin a step nobody waits at; common practice, no source
CHANGE_MINUTES = 6.0  # a water change with its re-dose; common practice, no source


@dataclass(frozen=True)
class Method:
    """An arm's method side by side with others; cost None where a part is unknown or currencies mix."""

    arm: str
    units: int
    steps: int
    minutes: float
    minutes_per_unit: float
    lasts_days: float
    cost_micro: int | None
    currency: str | None
    cautions: tuple[str, ...]
    protective_wear: tuple[str, ...]
    disposal: str | None


def method(
    arm: str, content: Mapping[str, Any] | None, *, tubs: int, units: int, cost: tuple[int | None, str | None]
) -> Method:
    """The method of an arm by its written treatment; the control takes nothing but looking at."""
    if content is None:
        return Method(arm, units, 0, 0.0, 0.0, 0.0, 0, None, (), (), None)
    steps: Sequence[Mapping[str, Any]] = content["steps"]
    seconds = sum(step["duration"]["target_s"] for step in steps)
    minutes = tubs * (sum(_hands(step) for step in steps) + _changes(content, seconds))
    return Method(
        arm=arm,
        units=units,
        steps=len(steps),
        minutes=minutes,
        minutes_per_unit=minutes / units,
        lasts_days=seconds / 86400,
        cost_micro=cost[0],
        currency=cost[1],
        cautions=tuple(content["cautions"]),
        protective_wear=tuple(content.get("protective_wear") or ()),
        disposal=content["disposal"],
    )


def _hands(step: Mapping[str, Any]) -> float:
    return step["duration"]["target_s"] / 60 if step["kind"] in ATTENDED else SET_UP_MINUTES


def _changes(content: Mapping[str, Any], seconds: float) -> float:
    rhythm = content.get("water_change")
    return CHANGE_MINUTES * rhythm["per_week"] * seconds / (7 * 86400) if rhythm else 0.0
