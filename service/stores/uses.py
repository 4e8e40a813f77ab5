"""Stock that is used by hand, outside of any treatment."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core.errors import Invalid
from service.core.ids import new_id
from service.core.shapes import ExactAmount
from service.journal.acts import Act
from service.stores.actions import draw
from service.stores.models import Material
from service.stores.quantities import base_units


def use_for_test(session: Session, act: Act, facts: Mapping[str, Any]) -> dict[str, Any]:
    """Draw what a test used and give it as answered; Refused when too little is there.

    Invalid names what else cannot be; drops, because before a batch is chosen nobody knows whose they are.
    """
    material = session.scalars(select(Material).where(Material.code == facts["material"])).one_or_none()
    if material is None:
        raise Invalid.at("#/material", "There is no such material.", code="unknown-material")
    use_id = new_id()
    drawn = draw(
        session,
        act,
        material=material,
        base_units=base_units(material.base_unit, facts["quantity"], "#/quantity"),
        reason="test",
        cause_kind="stock_use",
        cause_id=use_id,
        batch_id=facts["batch_id"],
        note=facts["note"],
    )
    lines = [{"batch_id": one.batch_id, "amount": ExactAmount.of(one.amount, one.base_unit)} for one in drawn]
    return {"id": use_id, "material": material.code, "drawn": lines, "at": act.at}
