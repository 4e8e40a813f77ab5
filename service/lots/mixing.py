"""When lots come to share water: whose consent is needed, and when a tub is closed to others."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.core.reasons import Reason

FILLING = timedelta(hours=48)  # all in, all out [P]: common practice, no source


@dataclass(frozen=True)
class Origin:
    """A lot with the water it comes from: a tub's water, its transport bag, or its own."""

    code: str
    water: str
    bag: str | None = None


def same_water(one: Origin, other: Origin) -> bool:
    """True when both stand in one water, or came in one bag."""
    return one.water == other.water or (one.bag is not None and one.bag == other.bag)


def strangers(movers: Sequence[Origin], others: Sequence[Origin], *, by_intent: bool) -> list[str]:
    """Codes of the lots whose water would be shared without anybody having said so.

    `others` are inside already; `by_intent` says that the movers share water on purpose
    (the lots of one treatment).
    """
    inside = [o.code for o in others if not all(same_water(o, mover) for mover in movers)]
    together = [] if by_intent else [m.code for m in movers[1:] if not same_water(m, movers[0])]
    return inside + together


def mixes(movers: Sequence[Origin], others: Sequence[Origin]) -> bool:
    """True when waters come together, so that every clock starts anew."""
    return len({lot.water for lot in (*movers, *others)}) > 1


def is_closed(filling_since: datetime | None, at: datetime) -> bool:
    """True when a tub has been filled for more than 48 hours and takes no more lots."""
    return filling_since is not None and at - filling_since > FILLING


def tub_reasons(
    *,
    active: bool,
    locked: bool,
    treating: bool,
    closed_since: datetime | None,
    sealed: Sequence[str],
    strangers: Sequence[str],
    share_water: bool,
) -> list[Reason]:
    """Why lots may not enter a tub.

    `locked`: a lot inside is locked for a regulated pest; `treating`: one is in treatment;
    `closed_since`: when its filling began, if that is too long ago; `sealed`: lots of sealed cups.
    """
    reasons = [
        Reason(
            "sealed-cups",
            f"{code} is sealed cups: they stay dry, or are opened first (POST /lots/{{id}}/opening).",
        )
        for code in sealed
    ]
    if not active:
        reasons.append(Reason("tub-inactive", "This tub is out of use."))
    if locked:
        reasons.append(Reason("regulated-lock", "This water is locked: a regulated pest was found in it."))
    if treating:
        reasons.append(Reason("tub-in-treatment", "A treatment is going on in this water."))
    if closed_since is not None:
        detail = (
            "All in, all out: this tub was filled more than 48 hours ago and is closed until it is empty."
        )
        reasons.append(Reason("tub-closed", detail, needed="empty", have=closed_since.isoformat()))
    if strangers and not share_water:
        detail = (
            f"This water would be shared with {', '.join(strangers)}; say share_water: true to do so: "
            "the clock of every lot in it starts anew."
        )
        reasons.append(Reason("water-shared", detail, needed="share_water", have=", ".join(strangers)))
    return reasons
