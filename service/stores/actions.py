"""The verbs of the ledger: draw, count, dispose of, reverse. `post` alone writes lines."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core.clock import local_day
from service.core.errors import Forbidden, Refused
from service.core.house import house
from service.core.ids import new_id
from service.core.reasons import Reason
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.stores import ledger, queries
from service.stores.models import Material, StockBatch, StockEntry
from service.stores.queries import in_words
from service.stores.rules import (
    OF_TREATMENTS,
    BatchToday,
    Way,
    active_mg,
    first_expired_first_out,
    reversal_reasons,
    shortage,
    strength_today,
)


@dataclass(frozen=True)
class Drawn:
    """What was taken from one batch, in base units."""

    material_code: str
    batch_id: str
    amount: int
    base_unit: str


@dataclass(frozen=True, kw_only=True)
class Cause:
    """Why a line is written: the reason of the ledger, and the thing that caused it."""

    reason: str
    kind: str
    id: str
    treatment_id: str | None = None
    way: str | None = None
    note: str | None = None


def post(
    session: Session,
    act: Act,
    batch: StockBatch,
    amount: int,
    cause: Cause,
    *,
    reverses: StockEntry | None = None,
) -> StockEntry:
    """Write one line of `amount` base units (signed) on a locked batch; the one writer of lines and balances.

    Refused `insufficient-stock` when the balance would fall below zero. The mass of the substance is frozen
    at the strength of that day; a reversal takes back what the reversed line froze.
    """
    material = session.get_one(Material, batch.material_id)
    if batch.balance + amount < 0:
        raise Refused("insufficient-stock", *_too_little(material, -amount, batch.balance))
    batch.balance += amount
    entry = StockEntry(
        batch_id=batch.id,
        amount=amount,
        active_mg=_active_mg(session, act, batch, amount) if reverses is None else _taken_back(reverses),
        reason=cause.reason,
        way=cause.way,
        cause_kind=cause.kind,
        cause_id=cause.id,
        treatment_id=cause.treatment_id,
        note=cause.note,
        reverses_id=None if reverses is None else reverses.id,
        at=act.at,
        recorded_at=act.now,
        by=act.by,
    )
    session.add(entry)
    return entry


def _active_mg(session: Session, act: Act, batch: StockBatch, amount: int) -> int | None:
    facts = queries.facts_of(session, batch)
    strength = strength_today(facts, local_day(act.at, house(session).time_zone))
    return active_mg(amount, facts.base_unit, strength)


def _taken_back(entry: StockEntry) -> int | None:
    return None if entry.active_mg is None else -entry.active_mg


def _too_little(material: Material, required: int, available: int) -> tuple[str, list[Reason]]:
    needed, have = in_words(required, material.base_unit), in_words(available, material.base_unit)
    detail = f"Not enough usable {material.code}: {needed} are needed, {have} are there."
    return detail, [Reason("insufficient-stock", detail, needed, have)]


def draw(  # noqa: PLR0913  # the contract with the rooms that draw: each argument stands in the ledger
    session: Session,
    act: Act,
    *,
    material: Material,
    base_units: int,
    reason: str,
    cause_kind: str,
    cause_id: str,
    treatment_id: str | None = None,
    about: Sequence[Any] = (),
    batch_id: str | None = None,
    last_use: date | None = None,
    note: str | None = None,
) -> list[Drawn]:
    """Take `base_units` of a material, first expired first out or from the named batch, and book it.

    Locks the material's batches in the order of their ids. `reason` is treatment, redose, neutralise or test;
    only what is usable on the day of the act and keeps until `last_use` is taken. `about` are the rows the
    journal entry concerns besides the batches. Refused `insufficient-stock` with what is needed and there,
    `batch-not-usable` for a named one; NotFound for an unknown one.
    """
    if base_units < 0:
        raise ValueError(f"Only amounts of zero or more can be drawn, not {base_units}.")
    if base_units == 0:
        return []
    batches = queries.batches_today(session, [material.code], act.at, lock=True)[material.code]
    chosen = batches if batch_id is None else [_named(session, material, batches, batch_id)]
    allocated = first_expired_first_out(chosen, base_units, last_use)
    if shortage(allocated, base_units):
        raise _insufficient(material, base_units, sum(amount for _, amount in allocated), chosen)
    cause = Cause(reason=reason, kind=cause_kind, id=cause_id, treatment_id=treatment_id, note=note)
    rows = [session.get_one(StockBatch, batch.batch_id) for batch, _ in allocated]
    for row, (_, amount) in zip(rows, allocated, strict=True):
        post(session, act, row, -amount, cause)
    drawn = [Drawn(material.code, b.batch_id, amount, material.base_unit) for b, amount in allocated]
    after = {"reason": reason, "cause": f"{cause_kind}/{cause_id}", "drawn": [asdict(each) for each in drawn]}
    record(session, act, "stock.drawn", [*rows, *about], after=after)
    return drawn


def _named(session: Session, material: Material, batches: Sequence[BatchToday], batch_id: str) -> BatchToday:
    found = next((batch for batch in batches if batch.batch_id == batch_id), None)
    if found is None:
        row = queries.batch_by_id(session, batch_id)
        if row.material_id != material.id:
            raise Refused("wrong-material", f"Batch {row.batch_number} is not {material.code}.")
        raise Refused("insufficient-stock", f"Batch {row.batch_number} is empty.")
    if not found.usable:
        reasons = [Reason("batch-not-usable", words) for words in found.why_not]
        raise Refused("batch-not-usable", " ".join(found.why_not), reasons)
    return found


def _insufficient(
    material: Material, required: int, available: int, batches: Sequence[BatchToday]
) -> Refused:
    detail, reasons = _too_little(material, required, available)
    unusable = [Reason("batch-not-usable", words) for batch in batches for words in batch.why_not]
    return Refused("insufficient-stock", detail, reasons + unusable)


def count(
    session: Session, act: Act, batch: StockBatch, counted: int, note: str | None
) -> tuple[str, int, StockEntry | None]:
    """Book what a count of a locked batch found; gives the count's id, what was expected, and the line.

    The difference to the lines up to that moment is a line of its own; no line when there is none.
    """
    not_before(act.at, batch.received_at, "the batch was received")
    count_id, expected = new_id(), ledger.balance_at(session, batch.id, act.at)
    entry = None
    if counted != expected:
        cause = Cause(reason="count", kind="stock_count", id=count_id, note=note)
        entry = post(session, act, batch, counted - expected, cause)
    after = {"count_id": count_id, "expected": expected, "counted": counted, "note": note}
    record(session, act, "stock.counted", [batch], after=after)
    return count_id, expected, entry


def dispose(
    session: Session, act: Act, batch: StockBatch, amount: int, *, way: Way, reason: str
) -> StockEntry:
    """Book that stock of a locked batch left unused; refused when more than is there."""
    not_before(act.at, batch.received_at, "the batch was received")
    booked = "spill" if way is Way.SPILLED else "disposal"
    cause = Cause(reason=booked, kind="stock_disposal", id=new_id(), way=way.value, note=reason)
    entry = post(session, act, batch, -amount, cause)
    after = {"amount": amount, "way": way.value, "reason": reason}
    record(session, act, "stock.disposed", [batch], after=after)
    return entry


def reverse(session: Session, act: Act, entry: StockEntry, reason: str, *, by_manager: bool) -> StockEntry:
    """Undo one line by a second, once; what a treatment drew only by a manager."""
    if entry.reason in OF_TREATMENTS and not by_manager:
        raise Forbidden("What a treatment drew is reversed by a manager.")
    batch = queries.batch_by_id(session, entry.batch_id, lock=True)
    before = session.scalars(select(StockEntry.id).where(StockEntry.reverses_id == entry.id)).first()
    Refused.unless_empty("not-reversible", reversal_reasons(entry.reason, reversed_before=before is not None))
    not_before(act.at, entry.at, "the line that it reverses")
    cause = Cause(
        reason="reversal", kind="stock_entry", id=entry.id, treatment_id=entry.treatment_id, note=reason
    )
    undone = post(session, act, batch, -entry.amount, cause, reverses=entry)
    after = {"reverses_id": entry.id, "reversed_at": entry.at, "amount": -entry.amount, "reason": reason}
    record(session, act, "stock.reversed", [batch], after=after)
    return undone
