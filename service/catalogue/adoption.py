"""Taking pests and plants over from the reference data; what the nursery changed stays as it is."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.catalogue.models import Pest, Plant, Tolerance
from service.journal.actions import record
from service.journal.acts import Act
from service.journal.rules import plain
from service.reference.loader import Reference
from service.reference.plants import Plant as PlantFigures


def adopt_pests(session: Session, act: Act, reference: Reference) -> int:
    """Adopt every pest whose figures are new or changed, as a new row; gives how many.

    Where the house has figures of development of its own, these stay in force.
    """
    known = {pest.code: pest for pest in session.scalars(select(Pest).where(Pest.superseded_at.is_(None)))}
    adopted = 0
    for code, found in reference.pests.items():
        before = known.get(code)
        figures, published = _with_own(plain(asdict(found)), before)
        if before is not None and (before.figures, before.published) == (figures, published):
            continue
        pest = Pest(
            code=code,
            reference_version=reference.version,
            regulated=found.regulated,
            figures=figures,
            published=published,
            house_number=None if before is None else before.house_number,
        )
        supersede(session, act, before, pest)
        record(session, act, "pest.adopted", [pest], after={"code": code, "version": reference.version})
        adopted += 1
    return adopted


def _with_own(document: Mapping[str, Any], before: Pest | None) -> tuple[Mapping[str, Any], Any]:
    if before is None or before.house_number is None:
        return document, None
    return {**document, "development": before.figures["development"]}, document["development"]


def supersede(session: Session, act: Act, before: Pest | None, pest: Pest) -> None:
    """Put a row of figures in the place of another one of its pest."""
    if before is not None:
        before.superseded_at = act.now
        session.flush()
    session.add(pest)


def adopt_plants(session: Session, act: Act, reference: Reference) -> int:
    """Add every plant whose code is not known yet, with its tolerances; gives how many."""
    known = set(session.scalars(select(Plant.code)))
    new = [figures for code, figures in reference.plants.items() if code not in known]
    for figures in new:
        _add_plant(session, act, figures, reference.version)
    return len(new)


def _add_plant(session: Session, act: Act, figures: PlantFigures, version: str) -> None:
    plant = Plant(
        code=figures.code,
        scientific_name=figures.scientific_name,
        trade_names=list(figures.trade_names),
        synonyms=list(figures.synonyms),
        growth_form=figures.growth_form,
        look_class=figures.look_class,
        restricted=[plain(asdict(entry)) for entry in figures.restricted],
        reference_version=version,
        created_at=act.now,
    )
    session.add(plant)
    session.flush()
    session.add_all(
        Tolerance(plant_id=plant.id, method=method, level=found.takes, grade=found.grade, source=found.source)
        for method, found in figures.tolerances.items()
    )
    record(session, act, "plant.adopted", [plant], after={"code": figures.code, "version": version})
