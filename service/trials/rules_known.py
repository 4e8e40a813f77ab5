"""What was observed of a trial so far, as later looks are held against it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from service.core.reasons import Reason
from service.trials.rules import Stage

MASSES = ("clear", "cloudy", "white", "hatched")  # looks of an egg mass, the last three in the order of time
Subject = tuple[str, str, str]  # label, pest, stage


@dataclass(frozen=True)
class Place:
    """What a label stands for: the treatment of its tub, when it started; whether it is a unit or a tub."""

    control: bool
    treated_at: datetime | None
    is_unit: bool


@dataclass
class Known:
    """What was observed so far: counts by subject and day, fates of units by day and how they grew."""

    counts: dict[Subject, dict[int, Mapping[str, Any]]] = field(default_factory=dict)
    seen: dict[str, set[int]] = field(default_factory=dict)
    fates: dict[str, dict[int, dict[str, str]]] = field(default_factory=dict)

    def add(self, day: int, told: Mapping[str, Any]) -> None:
        """Take one observation in; observations come in the order of their days."""
        for count in told["counts"]:
            self.counts.setdefault(subject_of(count), {})[day] = count
            self.seen.setdefault(count["label"], set()).add(day)
        for row in told["conditions"]:
            self.fates.setdefault(row["label"], {}).setdefault(day, {})[row["grown"]] = row["fate"]
            self.seen.setdefault(row["label"], set()).add(day)


def subject_of(count: Mapping[str, Any]) -> Subject:
    """What a count is of."""
    return count["label"], count["pest"], count["stage"]


def living(count: Mapping[str, Any]) -> int:
    """How many live at a count: animals that move, egg masses that may still hatch."""
    if count["stage"] == Stage.EGG:
        return int(count["clear"] + count["cloudy"])
    return int(count["live"])


def at_start(count: Mapping[str, Any]) -> int:
    """How many there were at the first look, of which later looks can find no more."""
    if count["stage"] == Stage.EGG:
        return sum(int(count[look]) for look in MASSES)
    return int(count["live"] + count["dead"])


def unnamed(at: str, label: str | None, places: Mapping[str, Place]) -> list[Reason]:
    """Why a row at this pointer can't be: its label stands for nothing in the trial."""
    if label in places:
        return []
    return [wrong(f"{at}/label", "There is no such label in this trial.", "unknown-label")]


def wrong(pointer: str, detail: str, code: str) -> Reason:
    """A reason at its pointer."""
    return Reason(code, detail, pointer=pointer)
