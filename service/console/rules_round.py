"""Today's round: what comes first, and in which order one walks."""

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any

SOON = timedelta(minutes=30)
STEP_GRACE = timedelta(minutes=1)  # a dip of minutes is over when it is over
TIMED = frozenset({"end_step"})
WET = frozenset({"end_step", "rinse", "water_change", "inspect"})  # done at a tub


class Slot(StrEnum):
    """When a piece of work is for."""

    OVERDUE = "overdue"
    NOW = "now"
    TODAY = "today"
    LATER = "later"


@dataclass(frozen=True)
class Stop:
    """One stop of the round: a tub with its work, or one piece of work away from the tubs."""

    slot: Slot
    tub: Mapping[str, Any] | None
    work: Sequence[Mapping[str, Any]]

    def of(self, kind: str) -> list[Mapping[str, Any]]:
        """The work of one kind at this stop."""
        return [one for one in self.work if one["kind"] == kind]


def slot_of(kind: str, due_at: datetime, now: datetime, day: tuple[datetime, datetime]) -> Slot:
    """Which group a piece of work belongs to; `day` is the nursery's day, from its start to its end.

    Work of a day is overdue once the day is over, a step as soon as it has run a minute too long.
    """
    if due_at < day[0] or (kind in TIMED and due_at < now - STEP_GRACE):
        return Slot.OVERDUE
    if due_at <= now + SOON:
        return Slot.NOW
    return Slot.TODAY if due_at < day[1] else Slot.LATER


def stops(
    work: Iterable[Mapping[str, Any]],
    slots: Mapping[str, Slot],
    tubs: Mapping[str, Mapping[str, Any]],
    dirty: Collection[str],
) -> list[Stop]:
    """The stops of a round in walking order.

    Within a group: what is timed, then tubs by place and number with those first in whose water nothing was
    found (clean before dirty), then what is done at the desk.
    """
    at_tubs: dict[tuple[Slot, str], list[Mapping[str, Any]]] = {}
    found: list[Stop] = []
    for one in work:
        slot = slots[one["id"]]
        if one["kind"] in WET and one["tub"] is not None:
            at_tubs.setdefault((slot, one["tub"]["id"]), []).append(one)
        else:
            found.append(Stop(slot, None, [one]))
    for (slot, tub_id), there in at_tubs.items():
        known = {**tubs.get(tub_id, {}), **(there[0]["tub"] or {}), "dirty": tub_id in dirty}
        found.append(Stop(slot, known, there))
    order = list(Slot)
    return sorted(found, key=lambda stop: (order.index(stop.slot), *_place(stop)))


def walking_order(code: str) -> list[tuple[int, str]]:
    """T2 before T10: numbers in a code count as numbers."""
    return [(int(part), "") if part.isdigit() else (-1, part) for part in re.findall(r"\d+|\D+", code)]


def _place(stop: Stop) -> tuple[Any, ...]:
    if stop.tub is None:
        return (2, stop.work[0]["due_at"], "", [])
    timed = not any(one["kind"] in TIMED for one in stop.work)
    where = stop.tub.get("place") or ""
    return (int(timed), str(int(stop.tub["dirty"])), where, walking_order(stop.tub["code"]))
