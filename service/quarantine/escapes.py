"""Confirmed escapes: kept when a complaint is judged ours, read by what judges lots and suppliers."""

from collections import defaultdict
from collections.abc import Collection, Sequence
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.inspections.models import Finding, Inspection
from service.journal.actions import record
from service.journal.acts import Act
from service.lots.models import Lot
from service.lots.queries import lineages
from service.quarantine.models import Escape
from service.quarantine.rules_escapes import Tally


def confirm_escape(session: Session, act: Act, complaint_id: str, lots: Sequence[Lot], pest: str) -> None:
    """Write that customers found a pest of ours in (locked) lots that had been cleared."""
    chains = lineages(session, [lot.id for lot in lots])
    for lot in lots:
        root = chains[lot.id][-1][0] if chains[lot.id] else lot.id
        escape = Escape(complaint_id=complaint_id, lot_id=lot.id, arrived_as=root, pest=pest, at=act.at)
        escape.recorded_at = act.now
        session.add(escape)
    after = {"complaint_id": complaint_id, "pest": pest}
    record(session, act, "lot.escape_confirmed", lots, after=after)


def tallies(session: Session, at: datetime) -> dict[str, Tally]:
    """Of each pest that escaped up to a moment: lots (or tubs) in which looks found it, lots that escaped."""
    counted = func.count(func.distinct(Escape.arrived_as))
    escaped = session.execute(select(Escape.pest, counted).where(Escape.at <= at).group_by(Escape.pest)).all()
    if not escaped:
        return {}
    place = func.coalesce(Inspection.lot_id, Inspection.tub_id)
    found = session.execute(
        select(Finding.pest, func.count(func.distinct(place)))
        .join(Inspection, Inspection.id == Finding.inspection_id)
        .where(Finding.live > 0, Finding.pest.in_([row[0] for row in escaped]))
        .where(Inspection.voided_at.is_(None), Inspection.at <= at)
        .group_by(Finding.pest)
    ).all()
    seen = {pest: int(lots) for pest, lots in found}
    return {pest: Tally(seen.get(pest, 0), int(lots)) for pest, lots in escaped}


def escaped_from(session: Session, lot_ids: Collection[str], at: datetime) -> dict[str, set[str]]:
    """The pests that escaped, up to a moment, in plants that had come as these lots."""
    wanted = select(Escape.arrived_as, Escape.pest).where(Escape.arrived_as.in_(lot_ids), Escape.at <= at)
    found: dict[str, set[str]] = defaultdict(set)
    for lot_id, pest in session.execute(wanted).all():
        found[lot_id].add(pest)
    return found
