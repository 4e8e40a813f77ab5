"""Sales items as answered, and what an order means by a SKU."""

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from service.catalogue.models import Plant
from service.core.errors import Invalid, NotFound
from service.sales.item_models import SalesItem

NAMES = ("id", "sku", "plant_id", "unit_of_sale", "gtin", "created_at", "version")


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
