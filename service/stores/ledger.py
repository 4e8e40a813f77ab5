"""Reading the ledger: its lines, the balances they add up to, and what was used."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from service.core.clock import day_start, local_day
from service.core.errors import NotFound
from service.core.house import house
from service.core.shapes import ExactAmount
from service.stores.models import Material, StockBatch, StockEntry
from service.stores.queries import is_material
from service.stores.rules import OF_TREATMENTS

ENTRY = (
    "id",
    "batch_id",
    "amount",
    "reason",
    "way",
    "cause_kind",
    "cause_id",
    "treatment_id",
    "note",
    "reverses_id",
    "at",
    "recorded_at",
    "by",
)
USED: tuple[Any, ...] = (Material.code, StockEntry.at, StockEntry.amount)


def entry_by_id(session: Session, entry_id: str) -> StockEntry:
    """One line of the ledger; raises NotFound."""
    found = session.get(StockEntry, entry_id)
    if found is None:
        raise NotFound("stock entry")
    return found


def entries(
    session: Session,
    *,
    batch: str | None = None,
    material: str | None = None,
    since: date | None = None,
    until: date | None = None,
) -> Select[Any]:
    """Lines of the ledger of a batch, of a material (code or id), of local days since..until inclusive."""
    zone = house(session).time_zone
    found = (
        select(*(getattr(StockEntry, name) for name in ENTRY), Material.code, Material.base_unit)
        .join(StockBatch, StockBatch.id == StockEntry.batch_id)
        .join(Material, Material.id == StockBatch.material_id)
    )
    if batch is not None:
        found = found.where(StockEntry.batch_id == batch)
    if material is not None:
        found = found.where(is_material(material))
    if since is not None:
        found = found.where(StockEntry.at >= day_start(since, zone))
    return found if until is None else found.where(StockEntry.at < day_start(until + timedelta(days=1), zone))


def entry_shape(row: Sequence[Any]) -> dict[str, Any]:
    """A line of the ledger as answered."""
    *values, code, unit = row
    shown = dict(zip(ENTRY, values, strict=True))
    cause = {"kind": shown.pop("cause_kind"), "id": shown.pop("cause_id")}
    return {**shown, "material": code, "amount": ExactAmount.of(shown["amount"], unit), "cause": cause}


def entry_view(session: Session, entry: StockEntry) -> dict[str, Any]:
    """One line as answered."""
    batch = session.get_one(StockBatch, entry.batch_id)
    material = session.get_one(Material, batch.material_id)
    return entry_shape([*(getattr(entry, name) for name in ENTRY), material.code, material.base_unit])


def balance_at(session: Session, batch_id: str, at: datetime) -> int:
    """The sum of a batch's lines up to a moment."""
    statement = select(func.coalesce(func.sum(StockEntry.amount), 0))
    return int(session.scalar(statement.where(StockEntry.batch_id == batch_id, StockEntry.at <= at)) or 0)


def wrong_balances(session: Session) -> list[str]:
    """The batches whose balance is not the sum of their lines; none, ever."""
    total = func.coalesce(func.sum(StockEntry.amount), 0)
    statement = (
        select(StockBatch.id)
        .outerjoin(StockEntry, StockEntry.batch_id == StockBatch.id)
        .group_by(StockBatch.id, StockBatch.balance)
        .having(total != StockBatch.balance)
    )
    return list(session.scalars(statement))


@dataclass(frozen=True)
class Use:
    """What a treatment, or a bath for several in turn, took from a batch in all, in base units."""

    treatment_id: str | None
    bath_id: str | None
    amount: int
    first_at: datetime
    last_at: datetime


def uses_of(session: Session, batch_id: str) -> list[Use]:
    """The treatments and baths that took from a batch, the first first; reversed draws never happened."""
    columns = (StockEntry.treatment_id, StockEntry.cause_kind, StockEntry.cause_id)
    statement = (
        select(*columns, StockEntry.amount, StockEntry.at)
        .where(StockEntry.batch_id == batch_id, StockEntry.reason.in_(OF_TREATMENTS))
        .where(StockEntry.id.not_in(_undone()))
        .order_by(StockEntry.at, StockEntry.id)
    )
    found: dict[tuple[str | None, str | None], Use] = {}
    for treatment_id, kind, cause_id, amount, at in session.execute(statement):
        key = (treatment_id, cause_id if kind == "bath" else None)
        before = found.get(key, Use(*key, 0, at, at))
        found[key] = replace(before, amount=before.amount - amount, last_at=at)
    return list(found.values())


def uses_shape(session: Session, batch_id: str, base_unit: str) -> list[dict[str, Any]]:
    """The treatments and baths that took from a batch as answered."""
    return [
        {
            "treatment_id": use.treatment_id,
            "bath_id": use.bath_id,
            "amount": ExactAmount.of(use.amount, base_unit),
        }
        for use in uses_of(session, batch_id)
    ]


def daily_use(session: Session, reasons: Iterable[str], since: datetime) -> Mapping[str, Mapping[date, int]]:
    """Per material code what was used on each local day since a moment, in base units, reversals undone."""
    zone = house(session).time_zone
    found: dict[str, dict[date, int]] = {}
    for code, moment, amount in session.execute(_used(reasons).where(StockEntry.at >= since)):
        days = found.setdefault(code, {})
        day = local_day(moment, zone)
        days[day] = days.get(day, 0) - amount
    return found


def _used(reasons: Iterable[str]) -> Select[Any]:
    return (
        select(*USED)
        .join(StockBatch, StockBatch.id == StockEntry.batch_id)
        .join(Material, Material.id == StockBatch.material_id)
        .where(StockEntry.reason.in_(list(reasons)), StockEntry.id.not_in(_undone()))
    )


def _undone() -> Select[Any]:
    return select(StockEntry.reverses_id).where(StockEntry.reverses_id.is_not(None))
