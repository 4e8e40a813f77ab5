"""Reading the ledger: its lines, the balances they add up to, and what was used."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import Select, bindparam, func, select
from sqlalchemy.orm import Session

from service.core.clock import day_start, local_day
from service.core.errors import NotFound
from service.core.house import house, manner
from service.core.rows import Listing, Made, Rows, of
from service.core.shapes import ExactAmount
from service.stores.models import Material, StockBatch, StockEntry
from service.stores.queries import material_asked
from service.stores.rules import OF_TREATMENTS

ENTRY = Rows(
    {
        **of(StockEntry, "id", "batch_id"),
        "material": Material.code,
        "amount": Made(ExactAmount.of, (StockEntry.amount, Material.base_unit)),
        **of(StockEntry, "reason", "way"),
        "cause.kind": StockEntry.cause_kind,
        "cause.id": StockEntry.cause_id,
        **of(StockEntry, "treatment_id", "note", "reverses_id", "at", "recorded_at", "by"),
    },
    lambda found: found.join(StockBatch, StockBatch.id == StockEntry.batch_id).join(
        Material, Material.id == StockBatch.material_id
    ),
)
ENTRIES = Listing(
    ENTRY,
    ("at", "id"),
    {
        "batch": StockEntry.batch_id == bindparam("batch"),
        "material_id": Material.id == bindparam("material_id"),
        "material_code": Material.code == bindparam("material_code"),
        "since": StockEntry.at >= bindparam("since"),
        "until": StockEntry.at < bindparam("until"),
    },
)
USED: tuple[Any, ...] = (Material.code, StockEntry.at, StockEntry.amount)


def entry_by_id(session: Session, entry_id: str) -> StockEntry:
    """One line of the ledger; raises NotFound."""
    found = session.get(StockEntry, entry_id)
    if found is None:
        raise NotFound("stock entry")
    return found


def entries_asked(session: Session, asked: Mapping[str, Any]) -> dict[str, Any]:
    """What the filters of `ENTRIES` bind: a batch, a material (code or id), local days, both included."""
    since, until = asked["since"], asked["until"]
    zone = "" if since is None and until is None else manner(session).time_zone
    return {
        "batch": asked["batch"],
        **material_asked(asked["material"]),
        "since": None if since is None else day_start(since, zone),
        "until": None if until is None else day_start(until + timedelta(days=1), zone),
    }


def entry_view(session: Session, entry: StockEntry) -> dict[str, Any]:
    """One line as answered."""
    batch = session.get_one(StockBatch, entry.batch_id)
    material = session.get_one(Material, batch.material_id)
    return ENTRY.show(entry, material)


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
