"""What may cling to a lot, and what washed it off: the facts of the residue gate."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import and_, or_, select
from sqlalchemy.orm import Session

from service.clearance.rules_residue import Washed
from service.lots.models import Lot, Stay
from service.treatments.rules import TreatmentFact
from service.tubs.models import Measurement, WaterChange


def lingering_since(lot: Lot, treatments: Sequence[TreatmentFact]) -> datetime | None:
    """The last dose of copper, or the receipt after an unknown treatment; None when nothing lingers."""
    doses = [dose.at for fact in treatments if _has_copper(fact.content) for dose in fact.doses]
    received = [lot.received_at] if lot.supplier_treatment_unknown else []
    return max([*doses, *received], default=None)


def washed(session: Session, stays: Sequence[Stay], at: datetime) -> Washed:
    """The water changes and copper readings that the lot lived through up to a moment."""
    if not stays:
        return Washed((), ())
    changes = session.execute(
        select(WaterChange.at, WaterChange.fraction).where(_during(WaterChange, stays))
    ).all()
    copper = session.execute(
        select(Measurement.at, Measurement.value).where(
            _during(Measurement, stays), Measurement.substance == "copper", Measurement.voided_at.is_(None)
        )
    ).all()
    return Washed(
        [(row.at, row.fraction) for row in changes if row.at <= at],
        [(row.at, row.value) for row in copper if row.at <= at],
    )


def _during(fact: type[WaterChange] | type[Measurement], stays: Sequence[Stay]) -> Any:
    return or_(
        *(
            and_(
                fact.tub_id == stay.tub_id,
                fact.at >= stay.entered_at,
                *([fact.at <= stay.left_at] if stay.left_at else []),
            )
            for stay in stays
        )
    )


def _has_copper(content: Mapping[str, Any]) -> bool:
    return bool(content["residue"]["kind"] == "copper")
