"""Consumption from the rollup where it is whole, from the ledger for the days that are still owed."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core.clock import day_start, local_day
from service.core.house import house
from service.core.jobs import outstanding
from service.core.shapes import ExactAmount
from service.lots.models import Lot
from service.protocols.models import Protocol, ProtocolVersion
from service.reports.models import ConsumptionDay
from service.reports.rules import (
    LOSSES,
    USES,
    By,
    Consumed,
    Sums,
    as_use,
    grouped,
    money,
    period,
    shared,
    sums_of_line,
    totals,
)
from service.stores.models import Material, StockBatch, StockEntry
from service.treatments.models import Treatment, TreatmentLot

ROLL_UP = "roll_up"
Key = tuple[str | int | None, ...]
KEY_NAMES: Mapping[By, tuple[str, ...]] = {
    By.MATERIAL: ("material",),
    By.PROTOCOL: ("protocol", "version"),
    By.LOT: ("lot_id", "code"),
    By.DAY: ("day",),
    By.WEEK: ("week",),
    By.MONTH: ("month",),
}
LINE: tuple[Any, ...] = (
    StockEntry.at,
    StockEntry.amount,
    StockEntry.active_mg,
    StockEntry.reason,
    StockEntry.way,
    StockEntry.treatment_id,
    StockBatch.material_id,
    StockBatch.received,
    StockBatch.cost_minor,
    StockBatch.currency,
    Protocol.code,
    ProtocolVersion.number,
)


@dataclass(frozen=True)
class Span:
    """Local days, both included; None is open."""

    since: date | None = None
    until: date | None = None

    def holds(self, day: date) -> bool:
        """Whether a day lies in it."""
        return (self.since is None or self.since <= day) and (self.until is None or day <= self.until)


def ledger_lines(session: Session, span: Span) -> Iterator[tuple[str | None, Consumed]]:
    """What left stock, line by line, each with its treatment; reversed lines never happened."""
    zone = house(session).time_zone
    undone = select(StockEntry.reverses_id).where(StockEntry.reverses_id.is_not(None))
    statement = (
        select(*LINE)
        .join(StockBatch, StockBatch.id == StockEntry.batch_id)
        .outerjoin(Treatment, Treatment.id == StockEntry.treatment_id)
        .outerjoin(ProtocolVersion, ProtocolVersion.id == Treatment.protocol_version_id)
        .outerjoin(Protocol, Protocol.id == ProtocolVersion.protocol_id)
        .where(StockEntry.reason.in_(sorted(USES | LOSSES)), StockEntry.id.not_in(undone))
    )
    if span.since is not None:
        statement = statement.where(StockEntry.at >= day_start(span.since, zone))
    if span.until is not None:
        statement = statement.where(StockEntry.at < day_start(span.until + timedelta(days=1), zone))
    rows = session.execute(statement)
    for at, amount, active, reason, way, treatment, material, received, cost, currency, code, number in rows:
        sums = sums_of_line(
            amount=amount,
            active_mg=active,
            reason=reason,
            way=way,
            received=received,
            cost_minor=cost,
            currency=currency,
        )
        protocol = "" if code is None else f"{code}/{number}"
        yield treatment, Consumed(local_day(at, zone), material, protocol, reason, sums)


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
            Sums(row.used, row.cost_micro, row.currency, row.active_mg, row.discharged_mg),
        )
        for row in session.scalars(statement)
    ]
    return sorted(found, key=lambda c: (c.day, c.material_id, c.protocol, c.reason))


def days_owed(session: Session) -> set[date]:
    """The days whose rollup is still owed."""
    return {date.fromisoformat(key) for key in outstanding(session, ROLL_UP)}


def consumed(session: Session, span: Span) -> list[Consumed]:
    """What was consumed: the rollup, but the ledger for days still owed, so that it is right at once."""
    # What is owed is read first: a day that is rolled up meanwhile is only read from the ledger for nothing.
    owed = {day for day in days_owed(session) if span.holds(day)}
    rolled = [line for line in from_rollup(session, span) if line.day not in owed]
    if not owed:
        return rolled
    fresh = from_ledger(session, Span(min(owed), max(owed)))
    return rolled + [line for line in fresh if line.day in owed]


def rollup_differs(session: Session) -> list[Consumed]:
    """Every row of rollup or ledger that the other has not, days still owed left out; none, ever."""
    owed = days_owed(session)
    stored, right = set(from_rollup(session, Span())), set(from_ledger(session, Span()))
    wrong = [line for line in stored ^ right if line.day not in owed]
    return sorted(wrong, key=lambda c: (c.day, c.material_id, c.protocol, c.reason))


def consumption(session: Session, span: Span, by: By) -> list[dict[str, Any]]:
    """The rows of the report, by what was asked and material."""
    materials = {m.id: m for m in session.execute(select(Material.id, Material.code, Material.base_unit))}
    if by is By.LOT:
        pairs = _by_lot(session, span)
    else:
        pairs = (
            (
                (_key(by, line, materials[line.material_id].code), line.material_id),
                as_use(line.reason, line.sums),
            )
            for line in consumed(session, span)
        )
    rows = totals(pairs)
    order = sorted(rows, key=lambda pair: ([str(part or "") for part in pair[0]], materials[pair[1]].code))
    return [_row(by, key, materials[material_id], rows[key, material_id]) for key, material_id in order]


def _key(by: By, line: Consumed, material: str) -> Key:
    if by is By.MATERIAL:
        return (material,)
    if by is By.PROTOCOL:
        code, _, number = line.protocol.partition("/")
        return (code or None, int(number) if number else None)
    return (period(by, line.day),)


def _by_lot(session: Session, span: Span) -> Iterator[tuple[tuple[Key, str], Sums]]:
    """Each line of the ledger in equal shares to the lots of its treatment; none: to no lot."""
    lines = list(ledger_lines(session, span))
    lots = _lots_of(session, sorted({treatment for treatment, _ in lines if treatment is not None}))
    for treatment, line in lines:
        sharing: Sequence[Key] = lots.get(treatment or "") or [(None, None)]
        parts = shared(as_use(line.reason, line.sums), len(sharing))
        for lot, part in zip(sharing, parts, strict=True):
            yield (lot, line.material_id), part


def _lots_of(session: Session, treatment_ids: Sequence[str]) -> dict[str, list[Key]]:
    rows = session.execute(
        select(TreatmentLot.treatment_id, Lot.id, Lot.code)
        .join(Lot, Lot.id == TreatmentLot.lot_id)
        .where(TreatmentLot.treatment_id.in_(treatment_ids))
        .order_by(TreatmentLot.treatment_id, Lot.id)
    )
    found: dict[str, list[Key]] = {}
    for treatment_id, lot_id, code in rows:
        found.setdefault(treatment_id, []).append((lot_id, code))
    return found


def _row(by: By, key: Key, material: Any, sums: Sums) -> dict[str, Any]:
    return {
        "key": dict(zip(KEY_NAMES[by], key, strict=True)),
        "material": material.code,
        "used": ExactAmount.of(sums.used, material.base_unit),
        "cost": money(sums),
        "active_mass": _mass(sums.active_mg),
        "active_mass_discharged": _mass(sums.discharged_mg),
    }


def _mass(milligrams: int | None) -> ExactAmount | None:
    return None if milligrams is None else ExactAmount.of(milligrams, "mg")
