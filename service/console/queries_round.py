"""What the round needs besides due work: which waters something was found in lately."""

from datetime import datetime

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from service.inspections.models import Inspection
from service.lots.models import Lot
from service.lots.rules import ENDED


def tubs_with_finds(session: Session, since: datetime) -> set[str]:
    """Ids of the tubs in which something alive was found since a moment, or in a lot that is there now."""
    rows = session.execute(
        select(Inspection.tub_id, Lot.tub_id)
        .outerjoin(Lot, Lot.id == Inspection.lot_id)
        .where(Inspection.at >= since, Inspection.clean.is_(False), Inspection.voided_at.is_(None))
        .where(or_(Lot.id.is_(None), Lot.state.not_in([state.value for state in ENDED])))
    )
    return {tub_id for row in rows for tub_id in row if tub_id is not None}


def tubs_taken(session: Session) -> set[str]:
    """Ids of the tubs in which something stands."""
    return set(session.scalars(select(Lot.tub_id).where(Lot.tub_id.is_not(None)).distinct()))
