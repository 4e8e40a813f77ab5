"""The consumption report: the rollup by material, protocol or time; the ledger by lot or supplier."""

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.catalogue.models import Supplier
from service.core.house import house
from service.core.shapes import ExactAmount
from service.lots.models import Lot
from service.reports.queries import ledger_lines, still_owed
from service.reports.rolled import Part, rolled_up
from service.reports.rules import By, Sums, as_use, money, period, shared, totals
from service.reports.spans import Span, drawn_for_bath, within
from service.stores.models import Material, StockEntry
from service.treatments.models import Bath, TreatmentLot, TreatmentStep

Key = tuple[str | int | None, ...]
KEY_NAMES: Mapping[By, tuple[str, ...]] = {
    By.MATERIAL: ("material",),
    By.PROTOCOL: ("protocol", "version"),
    By.LOT: ("lot_id", "code"),
    By.SUPPLIER: ("supplier_id", "name"),
    By.DAY: ("day",),
    By.WEEK: ("week",),
    By.MONTH: ("month",),
}
# What a lot of a treatment is shown by, where the ledger has to say it; a supplier is that of the shipment.
OF_LOTS: Mapping[By, tuple[Any, ...]] = {
    By.LOT: (Lot.id, Lot.code),
    By.SUPPLIER: (Supplier.id, Supplier.name),
}


def consumption(session: Session, span: Span, by: By) -> list[dict[str, Any]]:
    """The rows of the report, by what was asked and material."""
    materials = {
        m.id: m
        for m in session.execute(select(Material.id, Material.code, Material.base_unit, Material.substance))
    }
    if by in OF_LOTS:
        pairs = _by_lot(session, span, by)
    else:
        parts = _rolled_and_owed(session, span, by)
        pairs = (((_key(by, part, materials[of].code), of), sums) for part, of, sums in parts)
    rows = totals(pairs)
    order = sorted(rows, key=lambda pair: ([str(part or "") for part in pair[0]], materials[pair[1]].code))
    return [_row(by, key, materials[material_id], rows[key, material_id]) for key, material_id in order]


def _rolled_and_owed(session: Session, span: Span, by: By) -> Iterator[tuple[Part, str, Sums]]:
    """The rollup, but the ledger for days that are still owed, so that the report is right at once."""
    # What is owed is read first: a day that is rolled up meanwhile is only read from the ledger for nothing.
    owed, lines = still_owed(session, span)
    yield from rolled_up(session, span, by, owed)
    for line in lines:
        part = line.protocol if by is By.PROTOCOL else line.day
        yield part, line.material_id, as_use(line.reason, line.sums)


def _key(by: By, part: Part, material: str) -> Key:
    if isinstance(part, date) and by is not By.MATERIAL:
        return (period(by, part),)
    if isinstance(part, str):
        code, _, number = part.partition("/")
        return (code or None, int(number) if number else None)
    return (material,)


def _by_lot(session: Session, span: Span, by: By) -> Iterator[tuple[tuple[Key, str], Sums]]:
    """What each treatment or bath used in equal shares to its lots, or their suppliers; none: to nobody."""
    used = totals(
        ((treatment, line.material_id), as_use(line.reason, line.sums))
        for treatment, line in ledger_lines(session, span)
    )
    lots = {**_lots_of(session, span, by), **_dipped(session, span, by)}
    for (treatment, material_id), sums in used.items():
        sharing = lots.get(treatment or "") or [(None, None)]
        for lot, part in zip(sharing, shared(sums, len(sharing)), strict=True):
            yield (lot, material_id), part


def _lots_of(session: Session, span: Span, by: By) -> dict[str, list[Key]]:
    """The lots of every treatment that used something, in one order, so that both reports share alike."""
    treated = within(select(StockEntry.treatment_id), span, house(session).time_zone)
    rows = session.execute(
        select(TreatmentLot.treatment_id, *OF_LOTS[by])
        .join(Lot, Lot.id == TreatmentLot.lot_id)
        .join(Supplier, Supplier.id == Lot.supplier_id)
        .where(TreatmentLot.treatment_id.in_(treated))
        .order_by(TreatmentLot.treatment_id, Lot.id)
    )
    found: dict[str, list[Key]] = {}
    for treatment_id, *key in rows:
        found.setdefault(treatment_id, []).append(tuple(key))
    return found


def _dipped(session: Session, span: Span, by: By) -> dict[str, list[Key]]:
    """The lots of every bath that was mixed in the span."""
    rows = session.execute(
        within(select(Bath.id, *OF_LOTS[by]), span, house(session).time_zone)
        .join(StockEntry, drawn_for_bath())
        .join(TreatmentStep, TreatmentStep.bath_id == Bath.id)
        .join(TreatmentLot, TreatmentLot.treatment_id == TreatmentStep.treatment_id)
        .join(Lot, Lot.id == TreatmentLot.lot_id)
        .join(Supplier, Supplier.id == Lot.supplier_id)
        .group_by(Bath.id, Lot.id, *OF_LOTS[by])
        .order_by(Bath.id, Lot.id)
    )
    found: dict[str, list[Key]] = {}
    for bath_id, *key in rows:
        found.setdefault(bath_id, []).append(tuple(key))
    return found


def _row(by: By, key: Key, material: Any, sums: Sums) -> dict[str, Any]:
    return {
        "key": dict(zip(KEY_NAMES[by], key, strict=True)),
        "material": material.code,
        "used": ExactAmount.of(sums.used, material.base_unit),
        "cost": money(sums),
        "substance": material.substance,
        "active_mass": _mass(sums.active_mg),
        "active_mass_discharged": _mass(sums.discharged_mg),
        "active_mass_after_neutralising": _mass(sums.left_mg),
    }


def _mass(milligrams: int | None) -> ExactAmount | None:
    return None if milligrams is None else ExactAmount.of(milligrams, "mg")
