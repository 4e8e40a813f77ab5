"""An act: who does something, when it happened and when it is written down."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime

from sqlalchemy.orm import Session

from service.core.errors import Invalid
from service.core.house import house
from service.journal.rules import judge_time


@dataclass(frozen=True)
class Act:
    """Who (`by`), when it happened (`at`), when it is recorded (`now`), and why late if late."""

    by: str
    at: datetime
    now: datetime
    late_reason: str | None = None
    request_id: str | None = None

    def moved(self, at: datetime) -> "Act":
        """The same act at another moment (a consequence dated with its cause)."""
        return replace(self, at=at)


def open_act(
    session: Session,
    by: str,
    now: datetime,
    at: datetime | None = None,
    *,
    late_reason: str | None = None,
    request_id: str | None = None,
) -> Act:
    """Open an act after judging its time by the rules; raises Invalid naming the field."""
    at = (at or now).astimezone(UTC)
    reasons = judge_time(at, now, late_reason, house(session).late_entry_limit_days)
    if reasons:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)
    return Act(by, at, now, late_reason, request_id)


def not_before(at: datetime, earliest: datetime, what: str) -> None:
    """Refuse an act dated before what it depends on."""
    if at < earliest:
        detail = f"This is dated before {what} ({earliest.isoformat()})."
        raise Invalid.at("#/at", detail, code="before-its-cause")
