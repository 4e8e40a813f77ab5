"""Until when cleared lots are good: as long as their certificate runs and their last look is not too old."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from service.clearance.models import LIVING, Certificate, Clearance
from service.clearance.rules_status import good_until, speaking
from service.lots.models import Lot
from service.lots.rules import State
from service.quarantine.evidence import evidence
from service.quarantine.queries import figures, policy


def look_again(session: Session, lots: Sequence[Lot], now: datetime) -> None:
    """Set anew until when these locked lots are good, after a look was made, voided, or at a split."""
    for lot_id, until in stands_until(session, lots, now).items():
        session.get_one(Lot, lot_id).good_until = until
    session.flush()


def stands_until(session: Session, lots: Sequence[Lot], now: datetime) -> dict[str, datetime]:
    """For each of the lots that is cleared: until when it is good under the policy that cleared it."""
    cleared = {lot.id: lot for lot in lots if lot.state == State.CLEARED}
    rows = session.execute(
        select(
            Certificate.lot_id,
            Certificate.expires_at,
            Clearance.policy,
            Clearance.policy_version,
            Clearance.overrides,
        )
        .join(Clearance, Clearance.id == Certificate.clearance_id)
        .where(Certificate.lot_id.in_(cleared), LIVING)
        .order_by(Certificate.lot_id)
    ).all()
    by_policy: dict[tuple[str, int], list[Row[Any]]] = defaultdict(list)
    for row in rows:
        by_policy[row.policy, row.policy_version].append(row)
    found = {}
    for (code, number), certified in by_policy.items():
        rules = figures(policy(session, code, number))
        again = timedelta(days=rules.looks.again_after_days)
        known = evidence(session, [cleared[row.lot_id] for row in certified], now, rules)
        for row in certified:
            since = cleared[row.lot_id].state_since
            looks = speaking(known[row.lot_id].counted, row.overrides, since)
            found[row.lot_id] = good_until(row.expires_at, looks, since, again)
    return found


def standing_differs(session: Session, now: datetime) -> list[str]:
    """Codes of cleared lots that are not good until when the facts say; the nightly check."""
    lots = session.scalars(select(Lot).where(Lot.state == State.CLEARED.value).order_by(Lot.id)).all()
    fresh = stands_until(session, lots, now)
    return [lot.code for lot in lots if lot.good_until != fresh.get(lot.id)]
