"""Naming what is sold, and finding what an order means by a name."""

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from service.catalogue.models import Plant
from service.catalogue.queries import plants_by_ids
from service.core.errors import Invalid, NotFound, Refused
from service.core.gs1 import same_item
from service.journal.actions import record
from service.journal.acts import Act
from service.sales.item_models import SalesItem

NAMES = ("id", "sku", "plant_id", "unit_of_sale", "gtin", "created_at", "version")


def add_item(session: Session, act: Act, facts: Mapping[str, Any]) -> SalesItem:
    """Name a plant in a unit; Refused when the name, the GTIN, or the plant in this unit has one already."""
    plants_by_ids(session, {facts["plant_id"]: "#/plant_id"})
    pair = (SalesItem.plant_id == facts["plant_id"], SalesItem.unit_of_sale == facts["unit_of_sale"])
    named = session.scalar(select(SalesItem.sku).where(*pair))
    if named is not None:
        raise Refused("item-exists", f"This plant has a number in this unit: {named}. Change that one.")
    _refuse_taken(session, facts, None)
    item = SalesItem(created_at=act.now, **facts)
    session.add(item)
    record(session, act, "sales_item.added", [item], after=facts)
    return item


def change_item(session: Session, act: Act, item: SalesItem, changes: Mapping[str, Any]) -> None:
    """Give a locked item another number or GTIN; Refused when another has it."""
    _refuse_taken(session, changes, item.id)
    before = {name: getattr(item, name) for name in changes}
    for name, value in changes.items():
        setattr(item, name, value)
    record(session, act, "sales_item.changed", [item], before=before, after=changes)


def items() -> Select[Any]:
    """Every sales item, with the name of its plant."""
    columns = [getattr(SalesItem, name) for name in NAMES]
    return select(*columns, Plant.scientific_name).join(Plant, Plant.id == SalesItem.plant_id)


def item_shape(row: Sequence[Any]) -> dict[str, Any]:
    """A sales item as answered."""
    return dict(zip((*NAMES, "scientific_name"), row, strict=True))


def item_view(session: Session, item: SalesItem) -> dict[str, Any]:
    """One sales item as answered."""
    session.flush()
    return item_shape(session.execute(items().where(SalesItem.id == item.id)).one())


def item_by_id(session: Session, item_id: str, *, lock: bool = False) -> SalesItem:
    """One sales item; raises NotFound."""
    found = session.get(SalesItem, item_id, with_for_update=lock or None)
    if found is None:
        raise NotFound("sales item")
    return found


def meant(session: Session, lines: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The lines of an order with the plant and unit that each SKU stands for. Raises Invalid."""
    wanted = {line["sku"] for line in lines if line.get("sku") is not None}
    rows = session.execute(
        select(SalesItem.sku, SalesItem.plant_id, SalesItem.unit_of_sale).where(SalesItem.sku.in_(wanted))
    )
    known = {row.sku: {"plant_id": row.plant_id, "unit_of_sale": row.unit_of_sale} for row in rows}
    for n, line in enumerate(lines):
        if line.get("sku") is not None and line["sku"] not in known:
            detail = f"Nothing is sold as {line['sku']}; GET /sales-items lists what is."
            raise Invalid.at(f"#/lines/{n}/sku", detail, code="unknown-sku")
    return [{**line, **known.get(line.get("sku"), {})} for line in lines]


def _refuse_taken(session: Session, facts: Mapping[str, Any], item_id: str | None) -> None:
    for name, written in (("sku", {facts.get("sku")}), ("gtin", same_item(facts.get("gtin")))):
        column = getattr(SalesItem, name)
        other = session.scalar(select(SalesItem).where(column.in_(written - {None})))
        if other is not None and other.id != item_id:
            raise Refused("name-taken", f"There is already a sales item with the {name} {facts[name]}.")
