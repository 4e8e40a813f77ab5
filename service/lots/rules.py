"""What a lot may become, how many units may leave it, and which stops forbid what."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from service.core.reasons import Reason


class State(StrEnum):
    """States of a lot; a hold is not one of them."""

    RECEIVED = "received"
    IN_TREATMENT = "in_treatment"
    IN_QUARANTINE = "in_quarantine"
    CLEARED = "cleared"
    CLOSED = "closed"
    REJECTED = "rejected"


class UnitOfSale(StrEnum):
    """What one unit of a lot is."""

    POT = "pot"
    BUNCH = "bunch"
    STEM = "stem"
    PORTION = "portion"
    CUP = "cup"
    MAT = "mat"


class LossCause(StrEnum):
    """Why plants were lost."""

    TREATMENT_DAMAGE = "treatment_damage"
    MELT = "melt"
    BROKEN = "broken"
    TAKEN_AS_SAMPLE = "taken_as_sample"
    DEAD_ON_ARRIVAL = "dead_on_arrival"
    OTHER = "other"


class RepackKind(StrEnum):
    """How the units of a lot became other units."""

    DEPOT = "depot"
    DIVIDE = "divide"
    BUNCH = "bunch"
    TRIM = "trim"
    RECOUNT = "recount"


Into = Literal["sold", "lost", "split_off", "disposed"]
HELD = "held"
TRIAL = "trial"  # the cause of the hold that keeps a trial's lots from sale; its own treatments go on
ENDED = frozenset({State.CLOSED, State.REJECTED})
TRANSITIONS: Mapping[State, frozenset[State]] = {
    State.RECEIVED: frozenset({State.IN_TREATMENT, State.IN_QUARANTINE, State.CLOSED, State.REJECTED}),
    State.IN_TREATMENT: frozenset({State.IN_QUARANTINE, State.RECEIVED, State.CLOSED, State.REJECTED}),
    State.IN_QUARANTINE: frozenset({State.IN_TREATMENT, State.CLEARED, State.CLOSED, State.REJECTED}),
    State.CLEARED: frozenset({State.IN_QUARANTINE, State.CLOSED, State.REJECTED}),
    State.CLOSED: frozenset(),
    State.REJECTED: frozenset(),
}
ADDRESSES: Mapping[str, str] = {
    State.RECEIVED: "POST /treatments/{id}/abandon",
    State.IN_TREATMENT: "POST /treatments",
    State.IN_QUARANTINE: "POST /treatments/{id}/finish",
    State.CLEARED: "POST /lots/{id}/clearance",
    State.REJECTED: "POST /lots/{id}/rejection",
    HELD: "POST /lots/{id}/holds",
}


def allowed_moves(state: State) -> list[str]:
    """The states that a person may bring a lot to from `state`, by whichever address."""
    return sorted(TRANSITIONS[state] - {State.CLOSED})


def transition_reasons(state: State, to: State) -> list[Reason]:
    """Why a lot may not go from `state` to `to`."""
    if to in TRANSITIONS[state]:
        return []
    detail = f"A lot that is {state} cannot become {to}."
    return [Reason("transition-not-allowed", detail, needed=to.value, have=state.value)]


def move_reasons(state: State, to: str) -> list[Reason]:
    """Why `to` may not be asked for as a move; its present state means a move to another tub."""
    if state in ENDED:
        return ended_reasons(state)
    if state is State.IN_TREATMENT and to == state:
        return treated_reasons(state)
    if to == state or (state is State.CLEARED and to == State.IN_QUARANTINE):
        return []
    if to == State.CLOSED:
        return [Reason("closed-by-the-service", "A lot is closed by the service when nothing is left.")]
    address = ADDRESSES[to]
    detail = f"A lot becomes {to} only by {address}, never by a move."
    return [Reason("use-another-address", detail, needed=address, have=state.value)]


def ended_reasons(state: State) -> list[Reason]:
    """A lot that is closed or rejected takes no more acts."""
    if state not in ENDED:
        return []
    return [Reason("lot-ended", f"This lot is {state}: nothing of it is left.", have=state.value)]


def treated_reasons(state: State) -> list[Reason]:
    """A lot in treatment keeps together and stays in its tub."""
    if state is not State.IN_TREATMENT:
        return []
    detail = "The lot is in treatment: finish or abandon the treatment first."
    return [Reason("lot-in-treatment", detail, have=state.value)]


def stop_reasons(hold_causes: Sequence[str], *, regulated_lock: bool) -> list[Reason]:
    """Why a lot is stopped: its open holds, and the lock after a regulated pest."""
    held = [Reason("held", f"The lot is on hold: {cause}.", have=cause) for cause in hold_causes]
    return held + lock_reasons(regulated_lock=regulated_lock)


def lock_reasons(*, regulated_lock: bool) -> list[Reason]:
    """A regulated pest locks the lot: only rejection, loss, inspections and holds remain."""
    if not regulated_lock:
        return []
    detail = (
        "A regulated pest was found in this lot or its water: it is locked until it is rejected, or until "
        "a second person voids a misidentified find."
    )
    return [Reason("regulated-lock", detail)]


def available(left: int, reserved: int) -> int:
    """Units of a lot that nobody was promised."""
    return left - reserved


def take_reasons(quantity: int, *, left: int, reserved: int) -> list[Reason]:
    """Why `quantity` units may not leave a lot; what is reserved is promised to others."""
    free = available(left, reserved)
    if quantity <= free:
        return []
    detail = f"Only {free} can be taken: {left} left, {reserved} of them reserved."
    return [Reason("not-enough-left", detail, needed=quantity, have=free)]


def put_back_reasons(quantity: int, sold: int) -> list[Reason]:
    """No more comes back than was sold."""
    if quantity <= sold:
        return []
    detail = f"Only {sold} of this lot were sold."
    return [Reason("more-than-sold", detail, needed=quantity, have=sold)]


def rejection_reasons(quantity: int, left: int) -> list[Reason]:
    """A rejection disposes of everything that is left, so the count must be right."""
    if quantity == left:
        return []
    detail = f"A rejection covers everything that is left ({left}); split or count first."
    return [Reason("not-all-that-is-left", detail, needed=left, have=quantity)]


@dataclass(frozen=True)
class Repacking:
    """`before` units of a lot become `after` units, of another unit of sale when `unit_changes`."""

    kind: RepackKind
    before: int
    after: int
    unit_changes: bool = False


def repack_reasons(repacking: Repacking, state: State, *, sealed: bool = False) -> list[Reason]:
    """Why units may not be repacked in this state.

    A recount downwards is always possible. Anything else would put units on sale that nobody looked
    at, so a cleared lot goes back to quarantine first, and one in treatment is left alone. Sealed cups are
    opened first.
    """
    if repacking.kind is RepackKind.RECOUNT and repacking.after <= repacking.before:
        return ended_reasons(state)
    if sealed:
        detail = "These cups are sealed: open them first (POST /lots/{id}/opening)."
        return [Reason("sealed-cups", detail)]
    if state is State.CLEARED:
        detail = "The certificate is for the units that were looked at: move the lot to in_quarantine first."
        return [Reason("lot-cleared", detail, have=state.value)]
    return ended_reasons(state) + treated_reasons(state)


def repack_count_reasons(repacking: Repacking, *, left: int, reserved: int) -> list[Reason]:
    """Why the units of a repacking do not fit a lot with `left` units, `reserved` of them promised."""
    before, remaining = repacking.before, left - repacking.before + repacking.after
    if before > left:
        detail = f"Only {left} are left."
        return [Reason("not-enough-left", detail, needed=before, have=left)]
    if repacking.unit_changes and before != left:
        detail = f"All {left} units change their kind together; split the lot to repack a part."
        return [Reason("not-all-that-is-left", detail, needed=left, have=before)]
    if reserved and (repacking.unit_changes or remaining < reserved):
        detail = f"{reserved} are reserved as they are."
        return [Reason("reserved", detail, needed=reserved, have=remaining)]
    return []


def child_code(parent: str, children: int) -> str:
    """The code of the next part split from a lot that already has `children`."""
    return f"{parent}-{children + 1}"
