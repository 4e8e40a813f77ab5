"""What may be written down of a look at a trial: days, labels, counts that can be."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

from service.core.reasons import Reason
from service.trials.rules import DAY, Stage
from service.trials.rules_conditions import condition_reasons
from service.trials.rules_known import MASSES, Known, Place, Subject, at_start, subject_of, unnamed, wrong

EARLY = timedelta(days=1)


@dataclass(frozen=True)
class Plan:
    """When a trial begins, and on which days it is looked at."""

    starts_at: datetime
    days: Sequence[int]


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
    unseen = [n for n, row in enumerate(told["hatches"]) if row["hatched_at"] > at]
    if unseen:
        pointer = f"#/hatches/{unseen[0]}/hatched_at"
        return [wrong(pointer, "It had not hatched yet at the moment of this look.", "after-the-look")]
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
        *condition_reasons(day, told["conditions"], places, known),
        *(
            reason
            for n, row in enumerate(told["hatches"])
            for reason in _hatch_reasons(n, row, places, pests)
        ),
        *(
            wrong(f"#/dummies/{n}/found", "No more are found than were hidden.", "more-than-hidden")
            for n, row in enumerate(told["dummies"])
            if row["found"] > row["hidden"]
        ),
        *photo_reasons(told["photos"], places),
    ]


def photo_reasons(photos: Sequence[Mapping[str, Any]], places: Mapping[str, Place]) -> list[Reason]:
    """Which photos are of nothing in the trial; one without a label is of the whole."""
    return [
        reason
        for n, row in enumerate(photos)
        if row["label"] is not None
        for reason in unnamed(f"#/photos/{n}", row["label"], places)
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
        yield from unnamed(at, count["label"], places)
        if count["pest"] not in pests:
            yield wrong(f"{at}/pest", "There is no such pest.", "unknown-pest")
        if subject in taken or day in known.counts.get(subject, {}):
            yield wrong(at, f"{count['label']} was counted for this on day {day}.", "observed-twice")
        taken.add(subject)
        yield from _count_reasons(at, day, count, known)


def _count_reasons(at: str, day: int, count: Mapping[str, Any], known: Known) -> Iterator[Reason]:
    egg = count["stage"] == Stage.EGG
    if egg and (count["live"] or count["dead"]):
        yield wrong(at, "Egg masses are counted as clear, cloudy, white and hatched.", "wrong-count")
    if not egg and any(count[look] for look in (*MASSES, "laid")):
        yield wrong(at, "Only eggs are clear, cloudy, white or hatched.", "wrong-count")
    label, before = count["label"], known.counts.get(subject_of(count), {})
    if day > 0 and 0 not in known.seen.get(label, set()):
        detail = (
            f"{label} was not looked at on day 0: without what was there before, nothing can be read from it."
        )
        yield wrong(at, detail, "no-first-look")
    elif count["stage"] in {Stage.EGG, Stage.ADULT}:
        yield from _too_many(at, day, count, before)


def _too_many(
    at: str, day: int, count: Mapping[str, Any], before: Mapping[int, Mapping[str, Any]]
) -> Iterator[Reason]:
    """More than day 0 found, on this day or on a later one that was entered before it."""
    looks = {**before, day: count}
    if 0 not in looks:
        return
    were, egg = at_start(looks[0]), count["stage"] == Stage.EGG
    days = sorted(looks)
    if egg and any(looks[a]["hatched"] > looks[b]["hatched"] for a, b in pairwise(days)):
        yield wrong(f"{at}/hatched", "A mass that has hatched stays hatched.", "fewer-hatched")
    totals = {one: _total(looks, one) for one in days if one >= day}
    if max(totals.values()) > were:
        over = next(one for one, many in totals.items() if many > were)
        remedy = (
            "Masses laid since belong under laid."
            if egg
            else "Count the young as hatchlings or juveniles, and the dead only once, as they are taken out."
        )
        detail = f"There were {were} on day 0; with the dead found so far these are {totals[over]}"
        detail += f" on day {over}. {remedy}"
        yield Reason("more-than-there-were", detail, needed=were, have=totals[over], pointer=at)


def _total(looks: Mapping[int, Mapping[str, Any]], day: int) -> int:
    if looks[day]["stage"] == Stage.EGG:
        return at_start(looks[day])
    return int(looks[day]["live"]) + sum(int(looks[one]["dead"]) for one in looks if one <= day)


def _hatch_reasons(
    n: int, row: Mapping[str, Any], places: Mapping[str, Place], pests: Collection[str]
) -> Iterator[Reason]:
    at = f"#/hatches/{n}"
    yield from unnamed(at, row["label"], places)
    if row["pest"] not in pests:
        yield wrong(f"{at}/pest", "There is no such pest.", "unknown-pest")
    if row["hatched_at"] <= row["laid_at"]:
        yield wrong(f"{at}/hatched_at", "It hatched after it was laid.", "hatched-before-laid")
