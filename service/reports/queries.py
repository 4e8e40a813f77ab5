"""Consumption from the rollup where it is whole, from the ledger for the days that are still owed."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from service.core.clock import local_day
from service.core.house import house
from service.core.jobs import outstanding
from service.protocols.models import Protocol, ProtocolVersion
from service.reports.models import ConsumptionDay
from service.reports.neutralised import left_after_neutralising
from service.reports.rules import (
    LOSSES,
    Consumed,
    Sums,
    grouped,
    sums_of_line,
)
from service.reports.spans import Span, drawn_for_bath, undone, within
from service.stores.models import StockBatch, StockEntry
from service.stores.rules import USES
from service.treatments.models import Bath, Treatment

ROLL_UP = "roll_up"
CHUNK = 5000
LINE: tuple[Any, ...] = (
    StockEntry.id,
    StockEntry.at,
    StockEntry.amount,
    StockEntry.active_mg,
    StockEntry.reason,
    StockEntry.way,
    func.coalesce(StockEntry.treatment_id, Bath.id),
    StockBatch.material_id,
    StockBatch.received,
    StockBatch.cost_minor,
    StockBatch.currency,
    Protocol.code,
    ProtocolVersion.number,
)


def ledger_lines(session: Session, span: Span) -> Iterator[tuple[str | None, Consumed]]:
    """What left stock, line by line, each with its treatment or bath; reversed lines never happened."""
    zone = house(session).time_zone
    left = left_after_neutralising(session, span, zone)
    # In chunks, so that years of lines need little memory; not by the server's cursor, as readers have no
    # transaction there.
    for row in session.execute(within(_lines(), span, zone)).yield_per(CHUNK):
        id_, at, *figures, treatment, material, received, cost, currency, code, number = row
        amount, active, reason, way = figures
        sums = sums_of_line(
            amount=amount,
            active_mg=active,
            reason=reason,
            way=way,
            received=received,
            cost_minor=cost,
            currency=currency,
        )
        if id_ in left:
            sums = replace(sums, left_mg=left[id_])
        protocol = "" if code is None else f"{code}/{number}"
        yield treatment, Consumed(local_day(at, zone), material, protocol, reason, sums)


def _lines() -> Select[Any]:
    return (
        select(*LINE)
        .join(StockBatch, StockBatch.id == StockEntry.batch_id)
        .outerjoin(Treatment, Treatment.id == StockEntry.treatment_id)
        .outerjoin(Bath, drawn_for_bath())
        .outerjoin(
            ProtocolVersion,
            ProtocolVersion.id == func.coalesce(Treatment.protocol_version_id, Bath.protocol_version_id),
        )
        .outerjoin(Protocol, Protocol.id == ProtocolVersion.protocol_id)
        .where(StockEntry.reason.in_(sorted(USES | LOSSES)), StockEntry.id.not_in(undone()))
    )


def from_ledger(session: Session, span: Span) -> list[Consumed]:
    """The rollup as the ledger says it should be."""
    return grouped(line for _, line in ledger_lines(session, span))


def from_rollup(session: Session, span: Span) -> list[Consumed]:
    """The rollup as it is stored."""
    statement = select(ConsumptionDay)
    if span.since is not None:
        statement = statement.where(ConsumptionDay.day >= span.since)
    if span.until is not None:
        statement = statement.where(ConsumptionDay.day <= span.until)
    found = [
        Consumed(
            row.day,
            row.material_id,
            row.protocol,
            row.reason,
            Sums(row.used, row.cost_micro, row.currency, row.active_mg, row.discharged_mg, row.left_mg),
        )
        for row in session.scalars(statement)
    ]
    return sorted(found, key=lambda c: (c.day, c.material_id, c.protocol, c.reason))


def everything(session: Session, margin: timedelta = timedelta()) -> Span:
    """From the first to the last day of ledger or rollup, `margin` wider; no day at all if both are empty."""
    zone = house(session).time_zone
    rolled = session.execute(select(func.min(ConsumptionDay.day), func.max(ConsumptionDay.day))).one()
    moments = session.execute(select(func.min(StockEntry.at), func.max(StockEntry.at))).one()
    days = [day for day in rolled if day is not None]
    days += [local_day(moment, zone) for moment in moments if moment is not None]
    return Span(min(days) - margin, max(days) + margin) if days else Span(date.max, date.min)


def days_owed(session: Session) -> set[date]:
    """The days whose rollup is still owed."""
    return {date.fromisoformat(key) for key in outstanding(session, ROLL_UP)}


def still_owed(session: Session, span: Span) -> tuple[set[date], list[Consumed]]:
    """The days of the span whose rollup is owed, and what the ledger gives for them."""
    owed = {day for day in days_owed(session) if span.holds(day)}
    if not owed:
        return owed, []
    return owed, [line for line in from_ledger(session, Span(min(owed), max(owed))) if line.day in owed]


def rollup_differs(session: Session) -> list[Consumed]:
    """Every row of rollup or ledger that the other has not, days still owed left out; none, ever."""
    owed = days_owed(session)
    wrong: list[Consumed] = []
    for month in everything(session).months():  # so that years of ledger need the memory of one month
        stored, right = set(from_rollup(session, month)), set(from_ledger(session, month))
        wrong += [line for line in stored ^ right if line.day not in owed]
    return sorted(wrong, key=lambda c: (c.day, c.material_id, c.protocol, c.reason))
