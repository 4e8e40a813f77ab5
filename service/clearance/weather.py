"""What the temperatures of its tub did to the wait of a lot, in words."""

from datetime import datetime

from sqlalchemy.orm import Session

from service.quarantine.evidence import Evidence
from service.quarantine.rules_weather import explained
from service.tubs.models import Tub


def weather(session: Session, known: Evidence, now: datetime) -> tuple[str, ...]:
    """The sentences on gaps and cold days, by the set point of the tub that the lot stands in."""
    tub = session.get(Tub, known.lot.tub_id) if known.lot.tub_id else None
    return explained(known.projection, known.wait, known.log, tub.set_point_c if tub else None, now)
