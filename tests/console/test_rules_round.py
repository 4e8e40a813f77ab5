"""The round: what comes first, and in which order one walks."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from service.console.rules_round import Slot, slot_of, stops, walking_order

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
DAY = datetime(2026, 3, 2, tzinfo=UTC), datetime(2026, 3, 3, tzinfo=UTC)


def work(id_: str, kind: str = "water_change", tub: str | None = None, hours: float = 0) -> dict[str, Any]:
    due_at = (NOW + timedelta(hours=hours)).isoformat()
    return {"id": id_, "kind": kind, "due_at": due_at, "tub": {"id": tub, "code": tub} if tub else None}


@pytest.mark.parametrize(
    ("kind", "hours", "slot"),
    [
        ("water_change", -10, Slot.OVERDUE),
        ("water_change", -9, Slot.NOW),
        ("water_change", 0.5, Slot.NOW),
        ("water_change", 0.51, Slot.TODAY),
        ("water_change", 15, Slot.LATER),
        ("end_step", -0.02, Slot.OVERDUE),
        ("end_step", -0.01, Slot.NOW),
    ],
)
def test_a_day_s_work_is_overdue_on_the_next_day_and_a_step_after_a_minute(
    kind: str, hours: float, slot: Slot
) -> None:
    assert slot_of(kind, NOW + timedelta(hours=hours), NOW, DAY) is slot


def test_numbers_in_a_code_count_as_numbers() -> None:
    assert sorted(["T10", "T2", "A1", "T1"], key=walking_order) == ["A1", "T1", "T2", "T10"]


def test_one_stop_takes_in_all_that_is_due_at_a_tub() -> None:
    there = [work("a", tub="T1"), work("b", "inspect", "T1")]
    found = stops(there, {"a": Slot.NOW, "b": Slot.NOW}, {"T1": {"place": "window"}}, ())
    assert [(stop.tub or {}).get("code") for stop in found] == ["T1"]
    assert [one["id"] for one in found[0].of("inspect")] == ["b"]


def test_timed_work_first_then_clean_water_by_place_then_dirty_water_then_the_desk() -> None:
    there = [
        work("desk", "order"),
        work("dirty", tub="T1"),
        work("far", tub="T3"),
        work("near", tub="T10"),
        work("dip", "end_step", "T9"),
        work("overdue", tub="T20"),
    ]
    slots = dict.fromkeys(("desk", "dirty", "far", "near", "dip"), Slot.NOW) | {"overdue": Slot.OVERDUE}
    tubs = {"T3": {"place": "door"}, "T10": {"place": "a door"}}
    found = stops(there, slots, tubs, {"T1"})
    assert [stop.work[0]["id"] for stop in found] == ["overdue", "dip", "near", "far", "dirty", "desk"]


def test_wet_work_without_a_tub_is_a_stop_of_its_own() -> None:
    found = stops([work("a", "inspect")], {"a": Slot.NOW}, {}, ())
    assert found[0].tub is None
