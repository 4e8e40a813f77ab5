"""Numbers asked for at the public check that are none, by place of the network: so that none can be guessed.

Only misses are kept, and only for a quarter of an hour: who checks what he was given leaves no trace.
"""

from datetime import datetime

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from service.clearance import rules_checking
from service.clearance.models import MissedCheck
from service.clearance.rules_checking import WINDOW


def closed_until(session: Session, place: str, most: int, now: datetime) -> datetime | None:
    """Until when nothing is looked up for a place, None when it is now."""
    misses = select(MissedCheck.at).where(MissedCheck.place == place, MissedCheck.at > now - WINDOW)
    newest = misses.order_by(MissedCheck.at.desc()).limit(most)
    return rules_checking.closed_until(session.scalars(newest).all(), most, now)


def note_miss(session: Session, place: str, now: datetime) -> None:
    """Remember a number that is none, and forget those that no longer count."""
    session.execute(delete(MissedCheck).where(MissedCheck.at <= now - WINDOW))
    session.add(MissedCheck(place=place, at=now))
    session.flush()
