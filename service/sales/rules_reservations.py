"""Promises to orders: which lots stand for them, how long they hold, what may become of them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from service.core.reasons import Reason

HOLDS_FOR = timedelta(minutes=30)
HOLDS_AT_MOST = timedelta(days=14)


class Status(StrEnum):
    """What a promise is: `open` runs out, `confirmed` does not, the others are over."""

    OPEN = "open"
    CONFIRMED = "confirmed"
    FULFILLED = "fulfilled"
    CANCELLED = "cancelled"
    EXPIRED = "expired"
    FREED = "freed"


LIVING = frozenset({Status.OPEN, Status.CONFIRMED})
TRANSITIONS: Mapping[Status, frozenset[Status]] = {
    Status.OPEN: frozenset(Status) - {Status.OPEN},
    Status.CONFIRMED: frozenset({Status.FULFILLED, Status.CANCELLED, Status.FREED}),
    # A dispatch entered by mistake and taken back leaves its promise to be kept.
    Status.FULFILLED: frozenset({Status.CONFIRMED}),
    Status.CANCELLED: frozenset(),
    Status.EXPIRED: frozenset(),
    Status.FREED: frozenset(),
}


@dataclass(frozen=True)
class Offer:
    """A lot that may stand for a promise, and how many units of it nobody was promised."""

    lot_id: str
    cleared_at: datetime
    free: int


def transition_reasons(status: Status, to: Status) -> list[Reason]:
    """Why a promise may not become `to`."""
    if to in TRANSITIONS[status]:
        return []
    return [Reason("reservation-over", f"This reservation is {status.value}.", needed=to.value, have=status)]


def allocate(quantity: int, offers: Sequence[Offer]) -> list[tuple[str, int]]:
    """Which lots give how many units: the lot cleared first gives first, as long as it has any.

    Gives less than `quantity` in all when the offers do not reach.
    """
    given = []
    for offer in sorted(offers, key=lambda offer: (offer.cleared_at, offer.lot_id)):
        part = min(quantity, offer.free)
        if part > 0:
            given.append((offer.lot_id, part))
            quantity -= part
    return given


def expiry_reasons(expires_at: datetime, now: datetime) -> list[Reason]:
    """Why a promise may not hold until then: it must end in the future, and not in the far one."""
    if expires_at <= now:
        return [Reason("in-the-past", "A reservation must end in the future.", pointer="#/expires_at")]
    if expires_at > now + HOLDS_AT_MOST:
        days = HOLDS_AT_MOST.days
        detail = f"A reservation holds for {days} days at most; confirm it, and it holds until it is sent."
        return [Reason("too-long", detail, needed=f"{days} d", pointer="#/expires_at")]
    return []


def settled(lines: Sequence[tuple[int, int, int]]) -> Status | None:
    """What a living promise has become when nothing is owed of it any more; None while something is.

    Lines are (quantity, sent, freed): `fulfilled` when any was sent, else `freed`.
    """
    if any(quantity > sent + freed for quantity, sent, freed in lines):
        return None
    return Status.FULFILLED if any(sent for _, sent, _ in lines) else Status.FREED
