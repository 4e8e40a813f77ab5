"""Reading the stores: materials, batches as they stand on a day, and the ledger."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from functools import cache
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, Select, select
from sqlalchemy.orm import Session

from service.core.clock import local_day
from service.core.errors import NotFound
from service.core.house import house
from service.core.shapes import ExactAmount
from service.science.amounts import present
from service.stores import supply
from service.stores.models import Material, StockBatch
from service.stores.rules import BatchFacts, BatchToday, batch_today, first_to_expire
from service.stores.rules_potency import usable_until
from service.stores.rules_shelf import NO_LOG, ShelfLog
from service.stores.shelf_log import shelf_logs

MATERIAL = (
    "id",
    "code",
    "name",
    "substance",
    "form",
    "base_unit",
    "figures",
    "reference_version",
    *supply.COLUMNS,
    "created_at",
    "version",
)
WITH_MATERIAL: tuple[Any, ...] = (StockBatch, Material)


@cache
def materials() -> Select[Any]:
    """Every material."""
    return select(*(getattr(Material, name) for name in MATERIAL))


def material_shape(row: Sequence[Any]) -> dict[str, Any]:
    """A material as answered."""
    shown = dict(zip(MATERIAL, row, strict=True))
    terms = {name: shown.pop(name) for name in supply.COLUMNS}
    return shown | supply.terms_shape(shown["base_unit"], terms)


def material_view(material: Material) -> dict[str, Any]:
    """One material as answered."""
    return material_shape([getattr(material, name) for name in MATERIAL])


def material_by_id(session: Session, material_id: str, *, lock: bool = False) -> Material:
    """One material; raises NotFound."""
    found = session.get(Material, material_id, with_for_update=lock or None)
    if found is None:
        raise NotFound("material")
    return found


def material_by_code(session: Session, code: str) -> Material:
    """One material by its code; raises NotFound."""
    found = session.scalars(select(Material).where(Material.code == code)).one_or_none()
    if found is None:
        raise NotFound("material")
    return found


def materials_by_code(session: Session, codes: Iterable[str], *, lock: bool = False) -> list[Material]:
    """The materials of these codes that there are; `lock` locks them in the order of their ids."""
    statement = select(Material).where(Material.code.in_(sorted(codes))).order_by(Material.id)
    return list(session.scalars(statement.with_for_update() if lock else statement))


def batch_by_id(session: Session, batch_id: str, *, lock: bool = False) -> StockBatch:
    """One batch; raises NotFound."""
    found = session.get(StockBatch, batch_id, with_for_update=lock or None)
    if found is None:
        raise NotFound("stock batch")
    return found


def batch_numbers(session: Session, material_id: str) -> list[tuple[str, date]]:
    """The supplier's numbers of a material's batches, with the local day each came."""
    zone = house(session).time_zone
    statement = select(StockBatch.batch_number, StockBatch.received_at)
    found = session.execute(statement.where(StockBatch.material_id == material_id).order_by(StockBatch.id))
    return [(number, local_day(came, zone)) for number, came in found]


def batches(material: str | None, *, with_stock: bool) -> Select[Any]:
    """Batches with their materials, of one material (code or id), all or those with something in them."""
    found = select(*WITH_MATERIAL).join(Material, Material.id == StockBatch.material_id)
    if material is not None:
        found = found.where(is_material(material))
    return found.where(StockBatch.balance > 0, StockBatch.blocked.is_(False)) if with_stock else found


def is_material(named: str) -> ColumnElement[bool]:
    """Whether a row is the material of this code or id."""
    try:
        return Material.id == str(UUID(named))
    except ValueError:
        return Material.code == named


def material_asked(named: str | None) -> dict[str, str | None]:
    """A material by its code or id, as filters of a list bind it: `material_id` or `material_code`."""
    try:
        return {"material_id": named and str(UUID(named)), "material_code": None}
    except ValueError:
        return {"material_id": None, "material_code": named}


def batch_facts(batch: StockBatch, material: Material, zone: str, shelf_log: ShelfLog = NO_LOG) -> BatchFacts:
    """What the rules need to know of a batch, its days local to `zone`."""
    figures = material.figures
    return BatchFacts(
        batch_id=batch.id,
        material_code=material.code,
        substance=material.substance,
        form=material.form,
        base_unit=material.base_unit,
        balance=batch.balance,
        received_on=local_day(batch.received_at, zone),
        received_at=batch.received_at,
        made_on=batch.made_on,
        opened_on=batch.opened_on,
        expires_on=batch.expires_on,
        strength_g_per_l=batch.strength_g_per_l,
        content_fraction=batch.content_fraction,
        measured_g_per_l=batch.measured_g_per_l,
        measured_on=None if batch.measured_at is None else local_day(batch.measured_at, zone),
        copper_form=batch.copper_form,
        drop_ml=batch.drop_ml,
        shelf_celsius=batch.shelf_celsius,
        shelf_log=shelf_log,
        blocked=batch.blocked,
        block_reason=batch.block_reason,
        ageing=figures.get("ageing"),
        shelf_life_days=figures["keeping"]["shelf_life_days"],
        opened_life_days=figures["keeping"]["opened_life_days"],
        block_below_share=(figures.get("potency") or {}).get("block_below_share", 0.0),
    )


def facts_of(session: Session, batch: StockBatch) -> BatchFacts:
    """What the rules need to know of one batch."""
    return facts_of_all(session, [(batch, session.get_one(Material, batch.material_id))])[0]


def facts_of_all(session: Session, pairs: Sequence[tuple[StockBatch, Material]]) -> list[BatchFacts]:
    """What the rules need to know of batches, the logs of their shelves among it, in their order."""
    zone = house(session).time_zone
    logs = shelf_logs(session, pairs, zone)
    return [batch_facts(batch, material, zone, logs.get(batch.id, NO_LOG)) for batch, material in pairs]


def batches_today(
    session: Session, material_codes: Iterable[str], at: datetime, *, lock: bool = False
) -> dict[str, list[BatchToday]]:
    """For each material code its batches that are not empty, in the order of use, as they stand at `at`.

    `lock` locks them in the order of their ids. A code without stock has an empty list.
    """
    codes = list(material_codes)
    zone = house(session).time_zone
    statement = batches(None, with_stock=False).where(Material.code.in_(codes), StockBatch.balance > 0)
    if lock:
        # populate_existing: what this session read before the lock may be stale.
        statement = (
            statement.order_by(StockBatch.id)
            .with_for_update(of=StockBatch)
            .execution_options(populate_existing=True)
        )
    facts = facts_of_all(session, [(batch, material) for batch, material in session.execute(statement)])
    found: dict[str, list[BatchToday]] = {code: [] for code in codes}
    for each in sorted((f for f in facts if f.balance > 0), key=first_to_expire):
        found[each.material_code].append(batch_today(each, local_day(at, zone)))
    return found


def usable_batches(session: Session, codes: Iterable[str], at: datetime) -> dict[str, list[tuple[date, int]]]:
    """For each material code what may be used at `at`: the last day of use and the balance of every batch."""
    found: dict[str, list[tuple[date, int]]] = {code: [] for code in codes}
    on = local_day(at, house(session).time_zone)
    statement = batches(None, with_stock=True).where(Material.code.in_(found))
    rows = [(batch, material) for batch, material in session.execute(statement.order_by(StockBatch.id))]
    for facts in facts_of_all(session, rows):
        if batch_today(facts, on).usable:
            found[facts.material_code].append((usable_until(facts, on), facts.balance))
    return found


def last_delivered(session: Session, codes: Iterable[str]) -> dict[str, float]:
    """What the last delivery of each material had by its label, mg of the substance in one mL or g."""
    columns = (Material.code, StockBatch.strength_g_per_l, StockBatch.content_fraction)
    rows = session.execute(
        select(*columns)
        .join(StockBatch, StockBatch.material_id == Material.id)
        .where(Material.code.in_(list(codes)))
        .order_by(StockBatch.received_at, StockBatch.id)
    )
    labels = {code: liquid or 1000 * (solid or 0.0) for code, liquid, solid in rows}
    return {code: strength for code, strength in labels.items() if strength}


def one_batch_today(session: Session, batch_id: str, at: datetime) -> BatchToday:
    """One batch, empty or not, as it stands at `at`; raises NotFound."""
    facts = facts_of(session, batch_by_id(session, batch_id))
    return batch_today(facts, local_day(at, house(session).time_zone))


def in_words(base_units: int, base_unit: str) -> str:
    """An amount of the ledger for a sentence: 400000 uL reads "400 mL"."""
    shown = present(ExactAmount.of(base_units, base_unit).amount, "si")
    return f"{shown.value.normalize():f} {shown.unit}"
