"""The facts of two gates: what died of a lot lately, and which official lists name its plant."""

from datetime import datetime, timedelta

from sqlalchemy import and_, false, or_, select
from sqlalchemy.orm import Session

from service.catalogue.queries import plant_by_id
from service.clearance.rules_plants import DYING, Died, Health, Listed
from service.core.house import house
from service.lots.models import Loss, Lot
from service.lots.rules_strata import kinds
from service.reference import policies as reference


def listed(session: Session, lot: Lot) -> Listed:
    """The lists that name the plant of a lot, and where the house is."""
    here = house(session)
    plants = [plant_by_id(session, plant_id) for plant_id in kinds(lot.plant_id, lot.strata)]
    named = [plant for plant in plants if plant.restricted] or plants[:1]
    names = " or ".join(plant.scientific_name for plant in named)
    return Listed(
        names, [entry for plant in named for entry in plant.restricted], here.country, here.subdivision
    )


def health(session: Session, lot: Lot, at: datetime, asked: reference.Health | None) -> Health:
    """What died of a lot, and of what it was split from before that, as far back as a policy asks."""
    within = timedelta(days=asked.within_days if asked else 0)
    lived: list[tuple[Lot, datetime]] = [(lot, at)]
    while (parent_id := lived[-1][0].parent_lot_id) is not None:
        child, until = lived[-1]
        lived.append((session.get_one(Lot, parent_id), min(until, child.split_at or until)))
    wanted = [and_(Loss.lot_id == one.id, Loss.at > at - within, Loss.at <= until) for one, until in lived]
    rows = session.execute(
        select(Loss.lot_id, Loss.at, Loss.quantity, Loss.there)
        .where(or_(false(), *wanted), Loss.cause.in_([cause.value for cause in DYING]))
        .order_by(Loss.at, Loss.id)
    ).all()
    left = {one.id: one.left for one, _ in lived}
    died = [Died(row.at, row.quantity, row.there or left[row.lot_id] + row.quantity) for row in rows]
    return Health(died, asked.lost_share_at_most if asked else None, within)
