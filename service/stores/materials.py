"""The verbs on materials: add one of the house's own, change on what terms it is delivered."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core.errors import Invalid, Refused
from service.journal.actions import record
from service.journal.acts import Act
from service.journal.rules import plain
from service.reference.materials import Material as Figures
from service.reference.problem import ReferenceProblem
from service.reference.shape import Place, read_table
from service.stores import supply
from service.stores.models import Material, StockBatch

OWN_ROUNDING = {
    "warn_above": 0.05,
    "block_above": 0.10,
    "source": "Assumed, as for the materials of the reference data",
    "grade": "assumption",
}
BASE_UNIT = {"liquid": "uL", "solid": "mg"}


def add_material(session: Session, act: Act, facts: Mapping[str, Any]) -> Material:
    """Add a material of the house's own; refused when its code is taken, Invalid for wrong figures."""
    if session.scalar(select(Material.id).where(Material.code == facts["code"])) is not None:
        raise Refused("name-taken", f"There is already a material with the code {facts['code']}.")
    figures = {name: value for name, value in facts.items() if name not in supply.TERMS}
    figures |= {"base_unit": BASE_UNIT[facts["form"]], "rounding": OWN_ROUNDING}
    figures = {name: value for name, value in figures.items() if value is not None}
    try:
        figures = plain(asdict(read_table(Figures, figures, Place("materials", facts["code"]))))
    except ReferenceProblem as problem:
        raise Invalid.at(f"#/{problem.field.replace('.', '/')}", problem.detail) from problem
    if figures.get("nominal_g_per_l") and figures.get("content_fraction"):
        raise Invalid.at("#/content_fraction", "A material has a strength in g/L or a fraction, not both.")
    material = Material(
        code=facts["code"],
        name=facts["name"],
        substance=facts["substance"],
        form=facts["form"],
        base_unit=figures["base_unit"],
        figures=figures,
        created_at=act.now,
    )
    for column, value in supply.columns(material, facts).items():
        setattr(material, column, value)
    session.add(material)
    record(session, act, "material.added", [material], after={"code": material.code, "figures": figures})
    return material


def change_material(session: Session, act: Act, material: Material, changes: Mapping[str, Any]) -> None:
    """Change a material's name or terms of supply; its figures come from the reference data."""
    columns = {name: value for name, value in changes.items() if name not in supply.TERMS}
    columns |= supply.columns(material, changes)
    change(session, act, "material.changed", material, columns)


def change(
    session: Session, act: Act, kind: str, thing: Material | StockBatch, columns: Mapping[str, Any]
) -> None:
    """Set columns of a material or batch and record what they were."""
    before = {name: getattr(thing, name) for name in columns}
    for name, value in columns.items():
        setattr(thing, name, value)
    record(session, act, kind, [thing], before=before, after=columns)
