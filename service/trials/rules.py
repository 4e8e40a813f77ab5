"""How a trial is laid out: its size, its random allocation, the days it is looked at, who may treat what."""

import hashlib
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from service.core.reasons import Reason
from service.science.proportions import units_per_arm

DAY = timedelta(days=1)
FIRST_DAYS = (0, 3)  # the look before anything is done, and the first after it
TWICE_WEEKLY = (3, 4)  # days from one look to the next, in turn
ADULTS_READ_ON = 7  # later, what hatched meanwhile could be taken for a survivor; common practice, no source
SOUND_TUBS = 2  # tubs an arm that let chance between tubs be told from the treatment
UNTREATED = "quarantine_only"  # the one method that leaves a control what it is


class Stage(StrEnum):
    """What a trial may be about; a cocoon is an egg."""

    EGG = "egg"
    HATCHLING = "hatchling"
    JUVENILE = "juvenile"
    ADULT = "adult"


class When(StrEnum):
    """How a look of the schedule stands."""

    TO_COME = "to_come"
    DUE = "due"
    DONE = "done"
    LATE = "late"
    MISSED = "missed"


@dataclass(frozen=True)
class Power:
    """What a trial wants to tell apart: two shares that die, how surely, and how alike units of a tub are."""

    treated: float
    control: float
    confidence: float
    power: float
    correlation: float


@dataclass(frozen=True)
class Placed:
    """One unit of a source as allocated: its number there, its label, the tub (by place) it goes to."""

    source: int
    number: int
    label: str
    tub: int


@dataclass(frozen=True)
class Allocation:
    """Which arm (by place) each tub serves, and where each unit goes."""

    arm_of_tub: tuple[int, ...]
    units: tuple[Placed, ...]


@dataclass(frozen=True)
class Scheduled:
    """A look of the schedule: its day, when it is due, and how it stands."""

    day: int
    due_at: datetime
    state: When
    observed_at: datetime | None


def schedule_days(days: int) -> tuple[int, ...]:
    """Day 0, day 3, then twice a week, and the last day."""
    found = list(FIRST_DAYS)
    turn = 1
    while found[-1] + TWICE_WEEKLY[turn % 2] <= days:
        found.append(found[-1] + TWICE_WEEKLY[turn % 2])
        turn += 1
    return tuple(found) if found[-1] == days else (*found, days)


def schedule(
    days: Sequence[int], starts_at: datetime, observed: Mapping[int, datetime], now: datetime, *, closed: bool
) -> list[Scheduled]:
    """Each look of the schedule with its state: late when a day behind, missed when the next is due."""
    found = []
    for place, day in enumerate(days):
        due_at = starts_at + day * DAY
        following = starts_at + days[place + 1] * DAY if place + 1 < len(days) else due_at + 3 * DAY
        state = _state(due_at, following, observed.get(day), now, closed=closed)
        found.append(Scheduled(day, due_at, state, observed.get(day)))
    return found


def _state(
    due_at: datetime, following: datetime, observed_at: datetime | None, now: datetime, *, closed: bool
) -> When:
    if observed_at is not None:
        return When.LATE if observed_at > due_at + DAY else When.DONE
    if now >= following or (closed and now >= due_at):
        return When.MISSED
    return When.DUE if now >= due_at else When.TO_COME


def units_needed(power: Power, units_in_tub: int) -> int:
    """Units an arm needs: for independent ones, times 1 + (m - 1) r for m that share a tub."""
    alone = units_per_arm(power.treated, power.control, power.confidence, power.power)
    return math.ceil(alone * (1 + (units_in_tub - 1) * power.correlation) - 1e-9)


def units_of_power(power: Power, tubs_per_arm: int) -> int:
    """The fewest units an arm needs when they are shared out over so many tubs."""
    found = units_needed(power, 1)
    while units_needed(power, -(-found // tubs_per_arm)) > found and found < MOST_UNITS:
        found = min(MOST_UNITS, units_needed(power, -(-found // tubs_per_arm)))
    return found


MOST_UNITS = 5000


def shuffled(seed: int, what: str, many: int) -> list[int]:
    """The numbers 0 to many - 1 in the order that a seed gives them: by the SHA-256 of seed, what and number.

    No generator of any library is in it, so that anyone can repeat the allocation in ten years.
    """
    return sorted(range(many), key=lambda n: hashlib.sha256(f"{seed}\n{what}\n{n}".encode()).digest())


def allocate(seed: int, arms: int, tubs: int, sources: Sequence[int]) -> Allocation:
    """Deal tubs to arms and the units of each source to the tubs, at random by the seed.

    `sources` is how many units each source gives in all, a multiple of `arms`. Labels number the units in
    the order of the sources, tubs keep theirs: neither tells the arm.
    """
    arm_of_tub = [0] * tubs
    for place, tub in enumerate(shuffled(seed, "tubs", tubs)):
        arm_of_tub[tub] = place % arms
    dealt = sorted(range(tubs), key=lambda tub: (_turn(arm_of_tub, tub), arm_of_tub[tub]))
    units, label = [], 0
    for source, many in enumerate(sources):
        goes_to = [0] * many
        slots = _slots(dealt, arms, many)
        for place, unit in enumerate(shuffled(seed, f"source {source}", many)):
            goes_to[unit] = slots[place]
        for number, tub in enumerate(goes_to, start=1):
            label += 1
            units.append(Placed(source, number, f"u{label:03d}", tub))
    return Allocation(tuple(arm_of_tub), tuple(units))


def _turn(arm_of_tub: Sequence[int], tub: int) -> int:
    return sum(arm_of_tub[other] == arm_of_tub[tub] for other in range(tub))


def _slots(dealt: Sequence[int], arms: int, many: int) -> list[int]:
    """A tub for each unit: every arm gets as many, its tubs in turn."""
    tubs_per_arm = len(dealt) // arms
    per_arm = many // arms
    return [dealt[(n % tubs_per_arm) * arms + arm] for n in range(per_arm) for arm in range(arms)]


def layout_reasons(arms: int, controls: int, tubs: int, units: int) -> list[Reason]:
    """Why so many arms, tubs and units an arm make no trial."""
    if arms < 2:
        return [_wrong("#/arms", "A trial compares two arms at least.")]
    if controls > 1:
        return [_wrong("#/arms", "One arm is the untreated control.")]
    if tubs == 0 or tubs % arms:
        detail = f"{arms} arms need as many tubs each: name {arms}, {2 * arms} or {3 * arms} tubs."
        return [_wrong("#/tub_ids", detail)]
    if units < tubs // arms:
        return [_wrong("#/units_per_arm", f"Each of the {tubs // arms} tubs of an arm needs a unit.")]
    return []


def plan_warnings(
    *, controls: int, tubs_per_arm: int, needed: int | None, units: int, blind: bool
) -> list[Reason]:
    """What the layout of a trial cannot give, said before anything is done."""
    found = []
    if not controls:
        detail = "Without a control, what died would perhaps have died anyway: no kill can be corrected."
        found.append(Reason("no-control", detail))
    if tubs_per_arm < SOUND_TUBS:
        detail = (
            "One tub an arm: what the tub does to its plants and animals can't be told from the treatment. "
            "The intervals speak of units as if each had its own water, and prove little."
        )
        found.append(Reason("one-tub-per-arm", detail, needed=SOUND_TUBS, have=tubs_per_arm))
    if needed is not None and units < needed:
        detail = f"{units} units an arm are fewer than the {needed} that the difference asked for needs."
        found.append(Reason("too-few-units", detail, needed=needed, have=units))
    if not blind:
        found.append(
            Reason("not-blind", "Who looks knows what was done: hopes may be counted with the snails.")
        )
    return found


def treatment_reasons(
    lot_code: str,
    *,
    arm: str,
    arm_version: str | None,
    version: str,
    method: str,
    others_in_it: Collection[str],
) -> list[Reason]:
    """Why a treatment may not be given to a lot of a trial: another than its arm's, or with other lots.

    `arm_version` and `version` are ids of protocol versions; a control (None) may only be quarantined.
    """
    right = version == arm_version if arm_version is not None else method == UNTREATED
    found = []
    if not right:
        wanted = (
            "stays untreated (quarantine-only)" if arm_version is None else "gets the protocol of its arm"
        )
        detail = f"Lot {lot_code} is of arm {arm} of a trial: it {wanted}."
        found.append(Reason("not-this-arm", detail, needed=arm_version or UNTREATED, have=version))
    if others_in_it:
        detail = f"Lot {lot_code} is of a trial: it is not treated with {', '.join(sorted(others_in_it))}."
        found.append(Reason("not-of-this-tub", detail))
    return found


def _wrong(pointer: str, detail: str) -> Reason:
    return Reason("validation", detail, pointer=pointer)
