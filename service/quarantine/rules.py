"""When the quarantine clock starts: the last moment at which something fertile could have laid eggs."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

ADULT_LOOKS_APART = timedelta(days=3)  # two clean looks for adults, assumed
ADULT_METHODS = frozenset({"strain", "bait", "bait_night"})
OWED = (
    "No treatment is credited with killing the adults: "
    "two clean looks by strain or bait, at least 3 days apart, are owed"
)


@dataclass(frozen=True)
class Kill:
    """A treatment meant to kill adults.

    `over_at` is the end of its killing step, None while it runs; `credited_at` the moment from which the
    adults count as dead, None when the evidence is not good enough (for a course it lies before the end).
    """

    name: str
    over_at: datetime | None
    credited_at: datetime | None

    @property
    def moment(self) -> datetime | None:
        """The moment before which the clock may not start."""
        return self.credited_at or self.over_at


@dataclass(frozen=True)
class FindNearby:
    """A live find in another lot, and the last moment up to it at which that lot shared this lot's water."""

    at: datetime
    shared_until: datetime


@dataclass(frozen=True)
class ClockFacts:
    """What the clock of one lot rests on; `adult_looks` are clean looks that would have found adults.

    `sealed_since`: cups that nothing can have got into.
    """

    received_at: datetime
    kills: Sequence[Kill] = ()
    finds: Sequence[datetime] = ()
    nearby: Sequence[FindNearby] = ()
    contacts: Sequence[datetime] = ()
    adult_looks: Sequence[datetime] = ()
    sealed_since: datetime | None = None


@dataclass(frozen=True)
class Clock:
    """Since when a lot waits, or why it does not yet; `treated` when a kill of adults is credited.

    `next_look_at` is when a look for adults is owed before the clock can start.
    """

    started_at: datetime | None
    reason: str
    treated: bool = False
    next_look_at: datetime | None = None
    sealed: bool = False


def clock(facts: ClockFacts) -> Clock:
    """The quarantine clock of a lot.

    It starts at the latest of receipt, end of a killing step (credited or not), last live find in the lot or
    in water shared since its clock, and last contact with other water. When no kill is credited, it starts at
    the first of two clean looks for adults three days apart after all these.
    """
    if facts.sealed_since is not None:
        reason = "Sealed cups: nothing can have got in."
        return Clock(facts.sealed_since, reason, treated=True, sealed=True)
    running = [kill.name for kill in facts.kills if kill.moment is None]
    if running:
        return Clock(None, f"The treatment {running[0]} is not over yet.")
    last = last_moment(facts)
    if _is_credited(facts):
        return Clock(last, "Counted from the last moment at which something could have laid.", treated=True)
    looks = _looks_since(last, facts)
    if not looks:
        return Clock(None, f"{OWED}; none is there yet.", next_look_at=last)
    if not _are_apart(looks):
        second = looks[0] + ADULT_LOOKS_APART
        return Clock(None, f"{OWED}; the second is still to come.", next_look_at=second)
    return Clock(looks[0], "Counted from the first of two clean looks for adults.")


def last_moment(facts: ClockFacts) -> datetime:
    """The latest of receipt, kills, finds, contacts, and finds in water shared since the clock of then."""
    ended = [kill.moment for kill in facts.kills if kill.moment is not None]
    moments = [facts.received_at, *ended, *facts.finds, *facts.contacts]
    for find in sorted(facts.nearby, key=lambda found: found.at):
        last = max((moment for moment in moments if moment <= find.at), default=facts.received_at)
        if find.shared_until >= _running_since(last, facts, find.at):
            moments.append(find.at)
    return max(moments)


def _running_since(last: datetime, facts: ClockFacts, at: datetime) -> datetime:
    """Since when the clock ran at a moment; the last moment itself as long as it had not started."""
    looks = [look for look in _looks_since(last, facts) if look <= at]
    return looks[0] if _are_apart(looks) and not _is_credited(facts) else last


def _is_credited(facts: ClockFacts) -> bool:
    return any(kill.credited_at is not None for kill in facts.kills)


def _looks_since(last: datetime, facts: ClockFacts) -> list[datetime]:
    return sorted(look for look in facts.adult_looks if look >= last)


def _are_apart(looks: Sequence[datetime]) -> bool:
    return len(looks) > 1 and looks[-1] - looks[0] >= ADULT_LOOKS_APART
