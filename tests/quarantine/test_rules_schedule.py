"""The standard schedule: full at arrival and the two last, strain at each change, bait before the end."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from service.inspections.rules import Look
from service.quarantine.rules_schedule import Course, Nights, Planned, schedule

START = datetime(2026, 3, 2, 9, tzinfo=UTC)


def day(days: float) -> datetime:
    return START + timedelta(days=days)


def look(at: float, method: str = "eyes", *, full: bool = True) -> Look:
    whole = method != "eyes"
    return Look(str(at), day(at), method, 20, 20, full and not whole, True, (), whole)


FRESH = Course(day(0), None, None, None, looks_made=False, looks=2, apart=timedelta(days=3))
LATE = replace(FRESH, clock_started_at=day(5), last_from=day(30), next_look_at=day(27))


def planned(
    course: Course, *looks: Look, changes: tuple[float, ...] = (), counted: tuple[float, ...] = ()
) -> dict[str, Planned]:
    lines = schedule(
        course, looks, [day(at) for at in changes], [day(at) for at in counted], method="eyes", minutes=15
    )
    return {line.what: line for line in lines}


def test_a_lot_that_just_came_owes_a_full_look() -> None:
    found = planned(FRESH)
    assert list(found) == ["arrival", "every_water_change", "before_the_end", "last"]
    assert found["arrival"] == Planned("arrival", "eyes", day(0), 0, 1, 15)
    assert [found[what].due_at for what in ("before_the_end", "last")] == [None, None]


def test_only_a_full_look_is_the_one_of_arrival() -> None:
    assert planned(FRESH, look(0.1, full=False))["arrival"].done == 0
    made = planned(FRESH, look(0.1))["arrival"]
    assert (made.done, made.due_at) == (1, None)


def test_water_is_strained_at_every_change() -> None:
    strains = [look(at, "strain") for at in (3, 7.5, 12)]
    line = planned(LATE, *strains, changes=(3, 7, 10))["every_water_change"]
    assert (line.method, line.done, line.needed) == ("strain", 2, 3)


def test_a_bait_is_laid_before_the_last_looks() -> None:
    assert planned(LATE, look(4, "bait"))["before_the_end"].due_at == day(27)  # that one was before the clock
    made = planned(LATE, look(26, "bait_night"))["before_the_end"]
    assert (made.done, made.due_at) == (1, None)


def test_of_the_last_looks_the_last_is_only_made_when_all_could_be_seen() -> None:
    assert planned(LATE, counted=(1,))["last"].done == 0
    early = planned(LATE, counted=(6, 9, 12))["last"]
    assert (early.done, early.needed, early.due_at) == (1, 2, day(27))
    assert planned(replace(LATE, looks_made=True, next_look_at=None), counted=(27, 30))["last"].done == 2


def test_what_cannot_be_counted_is_strained_at_arrival() -> None:
    lines = schedule(FRESH, [look(0.1, "strain")], [], [], method="strain", minutes=5)
    assert (lines[0].method, lines[0].done, lines[-1].method) == ("strain", 1, "strain")


def test_baits_over_night_are_on_it_where_they_are_asked_for() -> None:
    assert "nights" not in planned(LATE)
    asked = replace(LATE, nights=Nights(3, [day(4), day(27), day(27.5), day(28)], made=False))
    # the first was before the clock, the third in the same night as the second
    assert planned(asked)["nights"] == Planned("nights", "bait_night", day(27), 2, 3, 5)
    assert planned(replace(asked, clock_started_at=None))["nights"].done == 0
    made = replace(LATE, nights=Nights(3, [day(28), day(29), day(30)], made=True))
    assert planned(made)["nights"] == Planned("nights", "bait_night", None, 3, 3, 5)
