"""Adding and changing suppliers, plants and tolerances."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.catalogue.models import Plant, Supplier, Tolerance
from service.catalogue.rules import Level, Method
from service.core.errors import Refused
from service.journal.actions import record
from service.journal.acts import Act


def add_supplier(session: Session, act: Act, facts: Mapping[str, Any]) -> Supplier:
    """Add a supplier; refused when another has this name."""
    _name_is_free(session, facts["name"], None)
    supplier = Supplier(created_at=act.now, **facts)
    session.add(supplier)
    record(session, act, "supplier.added", [supplier], after=facts)
    return supplier


def change_supplier(session: Session, act: Act, supplier: Supplier, changes: Mapping[str, Any]) -> None:
    """Change a supplier; refused when another has the new name."""
    _name_is_free(session, changes.get("name", supplier.name), supplier.id)
    before = _set(supplier, changes)
    record(session, act, "supplier.changed", [supplier], before=before, after=changes)


def add_plant(session: Session, act: Act, facts: Mapping[str, Any]) -> Plant:
    """Add a plant; refused when its code is taken."""
    if session.scalar(select(Plant.id).where(Plant.code == facts["code"])) is not None:
        raise Refused("name-taken", f"There is already a plant with the code {facts['code']}.")
    plant = Plant(created_at=act.now, **facts)
    session.add(plant)
    record(session, act, "plant.added", [plant], after=facts)
    return plant


def change_plant(session: Session, act: Act, plant: Plant, changes: Mapping[str, Any]) -> None:
    """Change a plant."""
    before = _set(plant, changes)
    record(session, act, "plant.changed", [plant], before=before, after=changes)


def set_tolerance(session: Session, act: Act, plant: Plant, method: Method, facts: Mapping[str, Any]) -> None:
    """Say how a plant takes a method, in place of what was said before."""
    known = session.get(Tolerance, (plant.id, method.value))
    before = {"level": known.level} if known else {}
    level = Level(facts["level"]).value
    session.merge(
        Tolerance(
            plant_id=plant.id, method=method.value, level=level, grade=facts["grade"], source=facts["source"]
        )
    )
    record(
        session, act, "plant.tolerance_set", [plant], before=before, after={**facts, "method": method.value}
    )


def _set(thing: Any, changes: Mapping[str, Any]) -> dict[str, Any]:
    before = {name: getattr(thing, name) for name in changes}
    for name, value in changes.items():
        setattr(thing, name, value)
    return before


def _name_is_free(session: Session, name: str, supplier_id: str | None) -> None:
    found = session.scalar(select(Supplier.id).where(Supplier.name == name))
    if found is not None and found != supplier_id:
        raise Refused("name-taken", f"There is already a supplier called {name}.")
