"""Judging standing clearances again when a look that they may rest on was voided."""

from collections.abc import Iterator, Sequence
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.clearance.judging import judge
from service.clearance.models import LIVING, Certificate, Clearance
from service.clearance.rules import Gate
from service.clearance.rules_decision import no_longer_open
from service.lots.models import Lot
from service.quarantine.queries import policy


def shaken(session: Session, lots: Sequence[Lot], look_at: datetime) -> Iterator[tuple[Lot, list[Gate]]]:
    """The lots with a standing clearance that would not have been given without a look of that moment.

    Judged as of the decision, under its policy, by the looks that stand now; with the gates that are shut.
    """
    rows = session.execute(
        select(Certificate.lot_id, Clearance.at, Clearance.policy, Clearance.policy_version, Clearance.gates)
        .join(Clearance, Clearance.id == Certificate.clearance_id)
        .where(Certificate.lot_id.in_([lot.id for lot in lots]), LIVING, Clearance.at >= look_at)
    ).all()
    decided = {row.lot_id: row for row in rows}
    for lot in lots:
        if (row := decided.get(lot.id)) is not None:
            found = judge(session, lot, row.at, policy(session, row.policy, row.policy_version))
            if shut := no_longer_open(row.gates, found.gates):
                yield lot, shut
