"""Taking materials over from the reference data."""

from dataclasses import asdict

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.journal.actions import record
from service.journal.acts import Act
from service.journal.rules import plain
from service.reference.loader import Reference
from service.stores.models import Material


def adopt_materials(session: Session, act: Act, reference: Reference) -> int:
    """Add new materials and take over changed figures; gives how many.

    Sheets that were frozen keep the figures they were computed with.
    """
    known = {material.code: material for material in session.scalars(select(Material))}
    adopted = 0
    for code, figures in reference.materials.items():
        document = plain(asdict(figures))
        material = known.get(code)
        if material is None:
            material = Material(
                code=code,
                name=figures.name,
                substance=figures.substance,
                form=figures.form,
                base_unit=figures.base_unit,
                created_at=act.now,
            )
            session.add(material)
        elif material.reference_version is None or material.figures == document:
            continue
        material.figures, material.reference_version = document, reference.version
        record(
            session, act, "material.adopted", [material], after={"code": code, "version": reference.version}
        )
        adopted += 1
    return adopted
