"""Naming what is sold."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.catalogue.queries import plants_by_ids
from service.core.errors import Refused
from service.core.gs1 import same_item
from service.journal.actions import record
from service.journal.acts import Act
from service.sales.item_models import SalesItem


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


def _refuse_taken(session: Session, facts: Mapping[str, Any], item_id: str | None) -> None:
    for name, written in (("sku", {facts.get("sku")}), ("gtin", same_item(facts.get("gtin")))):
        column = getattr(SalesItem, name)
        other = session.scalar(select(SalesItem).where(column.in_(written - {None})))
        if other is not None and other.id != item_id:
            raise Refused("name-taken", f"There is already a sales item with the {name} {facts[name]}.")
