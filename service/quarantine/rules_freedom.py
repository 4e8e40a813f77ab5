"""The chance that none of a pest is left in a lot, from what was found, killed and looked for since."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import Enum
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.science import freedom
from service.science.credit import Spell
from service.science.curve import Curve, curve
from service.science.development import Development, Reading, variants

Method = Literal["eyes", "strain", "bait"]
DAY = timedelta(days=1)
MOST_DAYS_OF_LAYING = 120
Floats = NDArray[np.float64]
GrownBy = Callable[[datetime], datetime | None]


class Sight(NamedTuple):
    """How well one stage is seen: by eyes for a plant looked at, by strain and bait for the tub."""

    eyes: float
    strain: float
    bait: float
    never_seen: float


class Seen(NamedTuple):
    """A clean look: when, how, and at which share of the plants."""

    at: datetime
    method: Method
    looked_at: float


@dataclass(frozen=True)
class Animals:
    """Animals that may live in the lot: how many are expected, since when, and how they are seen."""

    expected: float
    since: datetime
    sight: Sight


@dataclass(frozen=True)
class Eggs:
    """Eggs that may be there: how many masses, and how eggs, hatchlings and the grown are seen."""

    expected: float
    development: Development
    visibility: Development | timedelta
    sights: tuple[Sight, Sight, Sight]


@dataclass(frozen=True)
class Suspect:
    """One pest that may be in a lot; `eggs` is None for what bears its young alive."""

    pest: str
    animals: Animals
    eggs: Eggs | None


@dataclass(frozen=True)
class Known:
    """What the lot's time says: clock (worst case: all eggs fresh then), clean looks, temperatures."""

    clock_started_at: datetime
    looks: Sequence[Seen]
    readings: Sequence[Reading]
    half_credit: Sequence[Spell]
    now: datetime


@dataclass(frozen=True)
class Freedom:
    """The chance that none of a pest is left, the best it could ever be, and how many may still be there."""

    pest: str
    probability: float
    highest: float
    units_left: float
    never_seen_share: float


class Outlook(Enum):
    """Whether the chance that none is left is enough, grows with more looks, or never will be enough."""

    ENOUGH = "enough"
    MORE_LOOKS = "more looks"
    NEVER = "never"


def outlook_of(found: Sequence[Freedom], target: float) -> Outlook:
    """How a lot stands towards the target, by its least favourable pest."""
    if any(judged.highest < target for judged in found):
        return Outlook.NEVER
    enough = all(judged.probability >= target for judged in found)
    return Outlook.ENOUGH if enough else Outlook.MORE_LOOKS


def freedoms_of(suspects: Sequence[Suspect], known: Known) -> list[Freedom]:
    """Judge every pest; the lowest chance comes first."""
    return sorted((freedom_of(suspect, known) for suspect in suspects), key=lambda judged: judged.probability)


def freedom_of(suspect: Suspect, known: Known) -> Freedom:
    """Judge one pest; of the believable thresholds of its development the least favourable counts.

    Adults that nobody has seen may have laid every day until the clock started: those eggs are counted in.
    """
    animals = suspect.animals
    unseen_animal = _unseen_animal(animals, known.looks)
    by_animals = np.full(freedom.BETWEEN_POINTS, unseen_animal)
    eggs = suspect.eggs
    if eggs is None:
        return _judged(suspect.pest, [(animals.expected, animals.sight.never_seen, by_animals)])
    laid = eggs.expected + _laid_unseen(animals, known)
    never = min(eggs.sights[0].never_seen, eggs.sights[2].never_seen)
    parts = [(animals.expected, animals.sight.never_seen, by_animals)]
    grown_by = _growth(eggs.visibility, known)
    found = [
        _judged(suspect.pest, [*parts, (laid, never, _unseen_eggs(eggs, variant, grown_by, known))])
        for variant in variants(eggs.development)
    ]
    return min(found, key=lambda judged: judged.probability)


def _judged(pest: str, parts: Sequence[tuple[float, float, Floats]]) -> Freedom:
    expected = [units for units, _, _ in parts]
    hidden = [share for _, share, _ in parts]
    unseen = np.stack([shares for _, _, shares in parts])
    return Freedom(
        pest=pest,
        probability=float(freedom.probability_of_freedom(expected, unseen)),
        highest=freedom.highest_reachable(expected, hidden),
        units_left=float(freedom.units_left(expected, unseen)),
        never_seen_share=max(hidden),
    )


def _missed(look: Seen, sight: Sight) -> float:
    seen = {look.method: getattr(sight, look.method)}
    return freedom.missed_by_look(look.looked_at, **seen)


def _unseen_animal(animals: Animals, looks: Sequence[Seen]) -> float:
    missed = 1.0
    for look in looks:
        if look.at >= animals.since:
            missed *= _missed(look, animals.sight)
    return animals.sight.never_seen + (1 - animals.sight.never_seen) * missed


def _laid_unseen(animals: Animals, known: Known) -> float:
    days = min(MOST_DAYS_OF_LAYING, (known.clock_started_at - animals.since) // DAY)
    return sum(
        animals.expected * _unseen_animal(animals, [look for look in known.looks if look.at <= until])
        for until in (animals.since + day * DAY for day in range(1, days + 1))
    )


def _unseen_eggs(eggs: Eggs, variant: Development, grown_by: GrownBy, known: Known) -> Floats:
    start = known.clock_started_at
    looks = [look for look in known.looks if look.at > start]
    hatching = curve(known.readings, start, known.now, variant, half_credit=known.half_credit)
    return freedom.unseen_shares(
        variant.thermal_constant_dd,
        np.array([hatching.at(look.at) for look in looks]),
        np.array([_dd_or_never(hatching, grown_by(look.at)) for look in looks]),
        np.array([[_missed(look, sight) for sight in eggs.sights] for look in looks]).reshape(len(looks), 3),
        hidden_young=max(eggs.sights[0].never_seen, eggs.sights[2].never_seen),
        hidden_grown=eggs.sights[2].never_seen,
    )


def _growth(visibility: Development | timedelta, known: Known) -> GrownBy:
    """For a look: the last moment of hatching that leaves the young time to grow visible, None if none."""
    start = known.clock_started_at
    if isinstance(visibility, timedelta):
        return lambda look: look - visibility if look - visibility >= start else None
    growth = curve(known.readings, start, known.now, visibility, half_credit=known.half_credit)
    needed = visibility.thermal_constant_dd

    def hatched_by(look: datetime) -> datetime | None:
        surplus = growth.at(look) - needed
        return growth.reached_at(surplus) if surplus >= 0 else None

    return hatched_by


def _dd_or_never(hatching: Curve, moment: datetime | None) -> float:
    return -np.inf if moment is None else hatching.at(moment)
