"""Reading the catalogue: exact columns for answers, rows for changes."""

from collections.abc import Collection, Mapping, Sequence
from functools import cache
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from service.catalogue import rules
from service.catalogue.models import Pest, Plant, Supplier, Tolerance
from service.catalogue.rules import Level
from service.core.errors import Invalid, NotFound

SUPPLIER = (
    "id",
    "name",
    "country",
    "registration_number",
    "outdoor_grown",
    "in_vitro",
    "active",
    "created_at",
    "version",
)
PLANT = (
    "id",
    "code",
    "scientific_name",
    "trade_names",
    "synonyms",
    "growth_form",
    "look_class",
    "restricted",
    "created_at",
    "version",
)
PEST = ("code", "reference_version", "regulated", "figures", "house_number", "published")


def suppliers(*, active: bool | None) -> Select[Any]:
    """Suppliers, all or only (in)active ones."""
    found = select(*(getattr(Supplier, name) for name in SUPPLIER))
    return found if active is None else found.where(Supplier.active == active)


def supplier_shape(row: Sequence[Any]) -> dict[str, Any]:
    """A supplier as answered."""
    return dict(zip(SUPPLIER, row, strict=True))


def supplier_view(supplier: Supplier) -> dict[str, Any]:
    """One supplier as answered."""
    return {name: getattr(supplier, name) for name in SUPPLIER}


def supplier_by_id(session: Session, supplier_id: str, *, lock: bool = False) -> Supplier:
    """One supplier; raises NotFound."""
    found = session.get(Supplier, supplier_id, with_for_update=lock or None)
    if found is None:
        raise NotFound("supplier")
    return found


@cache
def plants() -> Select[Any]:
    """Every plant."""
    return select(*(getattr(Plant, name) for name in PLANT))


def plant_shape(row: Sequence[Any]) -> dict[str, Any]:
    """A plant as answered in lists."""
    return dict(zip(PLANT, row, strict=True))


def plant_view(session: Session, plant: Plant) -> dict[str, Any]:
    """One plant as answered, with its tolerances."""
    shown = {name: getattr(plant, name) for name in PLANT}
    return {**shown, "tolerances": tolerances(session, plant.id)}


def plant_by_id(session: Session, plant_id: str, *, lock: bool = False) -> Plant:
    """One plant; raises NotFound."""
    found = session.get(Plant, plant_id, with_for_update=lock or None)
    if found is None:
        raise NotFound("plant")
    return found


def plants_by_ids(session: Session, pointers: Mapping[str, str]) -> dict[str, Plant]:
    """The plants of a body, by id; `pointers` gives for each id where it stands. Raises Invalid."""
    rows = session.scalars(select(Plant).where(Plant.id.in_(pointers))).all()
    found = {plant.id: plant for plant in rows}
    for plant_id, pointer in pointers.items():
        if plant_id not in found:
            raise Invalid.at(pointer, "There is no such plant.", code="unknown-plant")
    return found


def tolerances(session: Session, plant_id: str) -> dict[str, dict[str, str]]:
    """How a plant takes each method it is known for."""
    rows = session.execute(
        select(Tolerance.method, Tolerance.level, Tolerance.grade, Tolerance.source)
        .where(Tolerance.plant_id == plant_id)
        .order_by(Tolerance.method)
    ).all()
    return {row.method: {"level": row.level, "grade": row.grade, "source": row.source} for row in rows}


def tolerance_level(session: Session, plant_id: str, method: str) -> Level:
    """How a plant takes one method; unknown when nothing is recorded."""
    level = session.scalar(
        select(Tolerance.level).where(Tolerance.plant_id == plant_id, Tolerance.method == method)
    )
    return Level(level) if level else Level.UNKNOWN


def worst_level(session: Session, plant_ids: Collection[str], method: str) -> Level:
    """How a lot of several kinds takes one method: as the one that takes it worst."""
    return rules.worst([tolerance_level(session, plant_id, method) for plant_id in plant_ids])


def pests() -> Select[Any]:
    """The present figures of every pest."""
    return select(*(getattr(Pest, name) for name in PEST)).where(Pest.superseded_at.is_(None))


def pest_shape(row: Sequence[Any]) -> dict[str, Any]:
    """A pest as answered: its code, version and every figure with its source."""
    code, version, regulated, figures, number, published = row
    own = None if number is None else {"number": number, "in_place_of": published}
    return {**figures, "code": code, "reference_version": version, "regulated": regulated, "house": own}


def figures_version(session: Session, reference_version: str) -> str:
    """The figures in force: the version of the reference data, and the newest of the house's own, if any."""
    newest = session.scalar(select(func.max(Pest.house_number)).where(Pest.superseded_at.is_(None)))
    return reference_version if newest is None else f"{reference_version}+house.{newest}"


def published_developments(session: Session) -> dict[str, Any]:
    """What the reference data says of each pest's development, whether or not it is in force."""
    columns = (Pest.code, Pest.figures, Pest.house_number, Pest.published)
    rows = session.execute(select(*columns).where(Pest.superseded_at.is_(None))).all()
    own = {row.code: row.published for row in rows if row.house_number is not None}
    return {row.code: row.figures["development"] for row in rows} | own


def pest_figures(session: Session) -> dict[str, Mapping[str, Any]]:
    """The present figures of every pest by code."""
    rows = session.execute(select(Pest.code, Pest.figures).where(Pest.superseded_at.is_(None))).all()
    return {row.code: row.figures for row in rows}
