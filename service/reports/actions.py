"""Keeping the rollup of consumption: owed day by day, rebuilt at night, always equal to the ledger."""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import delete, insert
from sqlalchemy.orm import Session

from service.core.clock import local_day
from service.core.house import house
from service.core.jobs import owe
from service.journal.actions import Note
from service.reports.models import ConsumptionDay
from service.reports.neutralised import moments_of_neutralised
from service.reports.queries import ROLL_UP, everything, from_ledger
from service.reports.rules import Consumed
from service.reports.spans import Span
from service.stores.models import StockEntry
from service.treatments.models import Treatment

NIGHTLY_DAYS = 40


def on_stock(session: Session, note: Note) -> None:
    """Reaction to lines of the ledger: owe the rollup of the day they count for.

    A neutraliser changes what is left of all that its treatment poured, so those days are owed too.
    """
    moments: list[datetime] = [note.after.get("reversed_at", note.act.at)]
    treatment_id = _treatment_of(session, note)
    if treatment_id is not None:
        moments += moments_of_neutralised(session, treatment_id)
    zone = house(session).time_zone
    for day in sorted({local_day(moment, zone).isoformat() for moment in moments}):
        owe(session, ROLL_UP, day, note.act.now, {"day": day})


def _treatment_of(session: Session, note: Note) -> str | None:
    if "reverses_id" in note.after:
        return session.get_one(StockEntry, note.after["reverses_id"]).treatment_id
    return next((thing.id for thing in note.about if isinstance(thing, Treatment)), None)


def on_house_changed(session: Session, note: Note) -> None:
    """Reaction to another time zone: every line may count for another day, so each day is owed."""
    if "time_zone" in note.after:
        for day in everything(session, margin=timedelta(days=1)).days():
            owe(session, ROLL_UP, day.isoformat(), note.act.now, {"day": day.isoformat()})


def roll_up(session: Session, payload: Mapping[str, Any], now: datetime) -> None:
    """Job: compute one day anew from the ledger."""
    day = date.fromisoformat(payload["day"])
    _replace(session, Span(day, day))


def roll_up_recent(session: Session, payload: Mapping[str, Any], now: datetime) -> None:
    """Job of the night: compute the last 40 days anew, whatever was owed."""
    today = local_day(now, house(session).time_zone)
    _replace(session, Span(today - timedelta(days=NIGHTLY_DAYS), today))


def rebuild(session: Session, span: Span) -> int:
    """Compute the rollup of a span anew from the ledger; gives how many rows it has."""
    return _replace(session, span)


def _replace(session: Session, span: Span) -> int:
    # Deleting comes first: it waits for another worker on the same days, so the ledger is read after him.
    statement = delete(ConsumptionDay)
    if span.since is not None and span.until is not None:
        statement = statement.where(ConsumptionDay.day.between(span.since, span.until))
    session.execute(statement)
    rows = [_values(line) for line in from_ledger(session, span)]
    if rows:
        session.execute(insert(ConsumptionDay), rows)
    return len(rows)


def _values(line: Consumed) -> dict[str, Any]:
    return {
        "day": line.day,
        "material_id": line.material_id,
        "protocol": line.protocol,
        "reason": line.reason,
        "used": line.sums.used,
        "cost_micro": line.sums.cost_micro,
        "currency": line.sums.currency,
        "active_mg": line.sums.active_mg,
        "discharged_mg": line.sums.discharged_mg,
        "left_mg": line.sums.left_mg,
    }
