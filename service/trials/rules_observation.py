"""What may be written down of a look at a trial: days, labels, counts that can be."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from service.core.reasons import Reason
from service.trials.rules import DAY, Stage

EARLY = timedelta(days=1)
MASSES = ("clear", "cloudy", "white", "hatched")  # looks of an egg mass, the last three in the order of time
SCORES = ("leaves", "roots", "melt", "new_growth")
SCALE = {
    5: "as on a healthy plant of its kind: firm, whole, in colour; no melt; new leaves or roots",
    4: "slight: up to a tenth marked, soft or lost; growth has paused",
    3: "plain: up to a third; some new growth or none",
    2: "bad: up to two thirds; no new growth",
    1: "more than two thirds, or nothing alive but the growing point or rhizome",
}
Subject = tuple[str, str, str]  # label, pest, stage


@dataclass(frozen=True)
class Place:
    """What a label stands for: the treatment of its tub, when it started; whether it is a unit or a tub."""

    control: bool
    treated_at: datetime | None
    is_unit: bool


@dataclass(frozen=True)
class Plan:
    """When a trial begins, and on which days it is looked at."""

    starts_at: datetime
    days: Sequence[int]


@dataclass
class Known:
    """What was observed so far: counts by subject and day, and the last fate of each unit with its day."""

    counts: dict[Subject, dict[int, Mapping[str, Any]]] = field(default_factory=dict)
    seen: dict[str, set[int]] = field(default_factory=dict)
    fates: dict[str, tuple[int, str]] = field(default_factory=dict)

    def add(self, day: int, told: Mapping[str, Any]) -> None:
        """Take one observation in; observations come in the order of their days."""
        for count in told["counts"]:
            self.counts.setdefault(subject_of(count), {})[day] = count
            self.seen.setdefault(count["label"], set()).add(day)
        for row in told["conditions"]:
            self.fates[row["label"]] = (day, row["fate"])
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


def time_reasons(
    day: int,
    at: datetime,
    plan: Plan,
    places: Mapping[str, Place],
    told: Mapping[str, Any],
) -> list[Reason]:
    """Why a look on this day can't be: not of the schedule, too early, before or after what it depends on."""
    if day not in plan.days:
        listed = ", ".join(str(one) for one in plan.days)
        return [Reason("not-a-day-of-it", f"The trial is looked at on days {listed}.", pointer="#/day")]
    if at < plan.starts_at:
        detail = f"The trial begins {plan.starts_at.isoformat()}: this look is dated before it."
        return [Reason("before-the-trial", detail, pointer="#/at")]
    if at < plan.starts_at + day * DAY - EARLY:
        due = (plan.starts_at + day * DAY).isoformat()
        return [
            Reason("too-early", f"Day {day} is {due}; a look counts from a day before it.", pointer="#/at")
        ]
    labels = {row["label"] for kind in ("counts", "conditions") for row in told[kind]} & places.keys()
    return [reason for label in sorted(labels) for reason in _treated(label, places[label], day, at)]


def _treated(label: str, place: Place, day: int, at: datetime) -> Iterator[Reason]:
    if place.control:
        return
    started = place.treated_at
    if day == 0 and started is not None and at > started:
        detail = (
            f"{label} was treated at {started.isoformat()}: what was there before can't be counted after it."
        )
        yield Reason("after-the-treatment", detail, pointer="#/at")
    if day > 0 and (started is None or at < started):
        when = "was not treated yet" if started is None else f"was treated at {started.isoformat()}"
        detail = f"{label} {when}: day {day} comes after it. Enter this as day 0, or treat first."
        yield Reason("before-the-treatment", detail, pointer="#/at")


def observation_reasons(
    day: int,
    told: Mapping[str, Any],
    places: Mapping[str, Place],
    pests: Collection[str],
    known: Known,
) -> list[Reason]:
    """What is wrong with counts and conditions, each with its pointer."""
    return [
        *_counts(day, told["counts"], places, pests, known),
        *_conditions(day, told["conditions"], places, known),
        *(
            reason
            for n, row in enumerate(told["hatches"])
            for reason in _hatch_reasons(n, row, places, pests)
        ),
        *(
            _wrong(f"#/dummies/{n}/found", "No more are found than were hidden.", "more-than-hidden")
            for n, row in enumerate(told["dummies"])
            if row["found"] > row["hidden"]
        ),
    ]


def _counts(
    day: int,
    counts: Sequence[Mapping[str, Any]],
    places: Mapping[str, Place],
    pests: Collection[str],
    known: Known,
) -> Iterator[Reason]:
    taken: set[Subject] = set()
    for n, count in enumerate(counts):
        at, subject = f"#/counts/{n}", subject_of(count)
        yield from _named(at, count, places)
        if count["pest"] not in pests:
            yield _wrong(f"{at}/pest", "There is no such pest.", "unknown-pest")
        if subject in taken or day in known.counts.get(subject, {}):
            yield _wrong(at, f"{count['label']} was counted for this on day {day}.", "observed-twice")
        taken.add(subject)
        yield from _count_reasons(at, day, count, known)


def _conditions(
    day: int, rows: Sequence[Mapping[str, Any]], places: Mapping[str, Place], known: Known
) -> Iterator[Reason]:
    taken: set[tuple[str, str]] = set()
    for n, row in enumerate(rows):
        at, judged = f"#/conditions/{n}", (row["label"], row["grown"])
        if judged in taken:
            yield _wrong(at, f"{row['label']} is judged twice here.", "observed-twice")
        taken.add(judged)
        yield from _condition_reasons(at, day, row, places, known)


def _named(at: str, row: Mapping[str, Any], places: Mapping[str, Place]) -> list[Reason]:
    if row["label"] in places:
        return []
    return [_wrong(f"{at}/label", "There is no such label in this trial.", "unknown-label")]


def _count_reasons(at: str, day: int, count: Mapping[str, Any], known: Known) -> Iterator[Reason]:
    egg = count["stage"] == Stage.EGG
    if egg and (count["live"] or count["dead"]):
        yield _wrong(at, "Egg masses are counted as clear, cloudy, white and hatched.", "wrong-count")
    if not egg and any(count[look] for look in (*MASSES, "laid")):
        yield _wrong(at, "Only eggs are clear, cloudy, white or hatched.", "wrong-count")
    if day == 0:
        return
    label, before = count["label"], known.counts.get(subject_of(count), {})
    if 0 not in known.seen.get(label, set()):
        detail = (
            f"{label} was not looked at on day 0: without what was there before, nothing can be read from it."
        )
        yield _wrong(at, detail, "no-first-look")
    elif count["stage"] in {Stage.EGG, Stage.ADULT} and 0 in before:
        yield from _too_many(at, day, count, before)


def _too_many(
    at: str, day: int, count: Mapping[str, Any], before: Mapping[int, Mapping[str, Any]]
) -> Iterator[Reason]:
    were = at_start(before[0])
    earlier = [before[one] for one in sorted(before) if one < day]
    if count["stage"] == Stage.EGG:
        now = at_start(count)
        if count["hatched"] < max(one["hatched"] for one in earlier):
            yield _wrong(f"{at}/hatched", "A mass that has hatched stays hatched.", "fewer-hatched")
        remedy = "Masses laid since belong under laid."
    else:
        now = count["live"] + count["dead"] + sum(one["dead"] for one in earlier)
        remedy = "Count the young as hatchlings or juveniles, and the dead only once, as they are taken out."
    if now > were:
        detail = f"There were {were} on day 0; with the dead found so far these are {now}. {remedy}"
        yield Reason("more-than-there-were", detail, needed=were, have=now, pointer=at)


def _condition_reasons(
    at: str, day: int, row: Mapping[str, Any], places: Mapping[str, Place], known: Known
) -> Iterator[Reason]:
    yield from _named(at, row, places)
    label = row["label"]
    if label in places and not places[label].is_unit:
        yield _wrong(f"{at}/label", "Condition is judged unit by unit, not by tub.", "not-a-unit")
    missing = [name for name in SCORES if (row[name] is None) != (row["fate"] == "dead")]
    if missing:
        detail = "A dead unit has no score." if row["fate"] == "dead" else "Give all four scores, 5 to 1."
        yield _wrong(f"{at}/{missing[0]}", detail, "score-missing")
    since, fate = known.fates.get(label, (day, "alive"))
    if fate != "alive" and since < day and row["fate"] != fate:
        yield _wrong(f"{at}/fate", f"{label} was {fate} on day {since}.", "gone-before")


def _hatch_reasons(
    n: int, row: Mapping[str, Any], places: Mapping[str, Place], pests: Collection[str]
) -> Iterator[Reason]:
    at = f"#/hatches/{n}"
    yield from _named(at, row, places)
    if row["pest"] not in pests:
        yield _wrong(f"{at}/pest", "There is no such pest.", "unknown-pest")
    if row["hatched_at"] <= row["laid_at"]:
        yield _wrong(f"{at}/hatched_at", "It hatched after it was laid.", "hatched-before-laid")


def _wrong(pointer: str, detail: str, code: str) -> Reason:
    return Reason(code, detail, pointer=pointer)
