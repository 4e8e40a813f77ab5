"""Kinds of due work and how a piece of it is known again."""

from datetime import datetime
from enum import StrEnum
from uuid import NAMESPACE_URL, uuid5


class Kind(StrEnum):
    """What a person has to do."""

    END_STEP = "end_step"
    RINSE = "rinse"
    WATER_CHANGE = "water_change"
    INSPECT = "inspect"
    DECIDE = "decide"
    ORDER = "order"
    USE_UP = "use_up"
    DISPOSE = "dispose"
    TELL = "tell_customers"
    OBSERVE = "observe"
    STEMS = "judge_stems"
    CLAIM = "claim_before"


MINUTES = {  # a guess of the trade, no source; shown so that a day can be planned
    Kind.END_STEP: 2,
    Kind.RINSE: 5,
    Kind.WATER_CHANGE: 6,
    Kind.INSPECT: 20,
    Kind.DECIDE: 2,
    Kind.ORDER: 5,
    Kind.USE_UP: 2,
    Kind.DISPOSE: 10,
    Kind.TELL: 10,
    Kind.OBSERVE: 45,
    Kind.STEMS: 3,
    Kind.CLAIM: 10,
}


def work_id(kind: Kind, subject: str, due_at: datetime) -> str:
    """A stable id (UUIDv5): the same work has the same id as long as it is due at the same moment."""
    return str(uuid5(NAMESPACE_URL, f"due-work/{kind}/{subject}/{due_at.isoformat()}"))
