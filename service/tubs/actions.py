"""Adding and changing tubs and water systems, and reading test kits."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core.errors import Invalid, Refused
from service.journal.actions import record
from service.journal.acts import Act
from service.tubs.models import Measurement, Tub, WaterSystem
from service.tubs.rules import Substance, measurement_reasons


def add_tub(session: Session, act: Act, facts: Mapping[str, Any]) -> Tub:
    """Add a tub; refused when its code is taken or its water system unknown."""
    _code_is_free(session, facts["code"], None)
    _known_system(session, facts.get("water_system_id"))
    tub = Tub(created_at=act.now, **facts)
    session.add(tub)
    record(session, act, "tub.added", [tub], after=facts)
    return tub


def change_tub(session: Session, act: Act, tub: Tub, changes: Mapping[str, Any]) -> None:
    """Change a (locked) tub; its water system only while nothing is in it."""
    _code_is_free(session, changes.get("code", tub.code), tub.id)
    if changes.get("water_system_id", tub.water_system_id) != tub.water_system_id:
        _known_system(session, changes["water_system_id"])
        if tub.filling_since is not None:
            raise Refused("tub-not-empty", "Lots are in this tub: their water can't be joined to another.")
    before = {name: getattr(tub, name) for name in changes}
    for name, value in changes.items():
        setattr(tub, name, value)
    record(session, act, "tub.changed", [tub], before=before, after=changes)


def add_water_system(session: Session, act: Act, *, name: str) -> WaterSystem:
    """Add a filter, pump or drain line that tubs share; refused when its name is taken."""
    if session.scalar(select(WaterSystem.id).where(WaterSystem.name == name)) is not None:
        raise Refused("name-taken", f"There is already a water system called {name}.")
    system = WaterSystem(name=name, created_at=act.now)
    session.add(system)
    record(session, act, "water_system.added", [system], after={"name": name})
    return system


def measure(session: Session, act: Act, tub: Tub, facts: Mapping[str, Any]) -> Measurement:
    """Write down what a test kit read; refused when no kit can read that."""
    reasons = measurement_reasons(Substance(facts["substance"]), facts["value"])
    if reasons:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)
    measurement = Measurement(
        tub_id=tub.id,
        at=act.at,
        substance=Substance(facts["substance"]).value,
        value=facts["value"],
        kit=facts["kit"],
        kit_limit=facts["kit_limit"],
        recorded_at=act.now,
        by=act.by,
    )
    session.add(measurement)
    record(session, act, "tub.measured", [tub], after=facts)
    return measurement


def _code_is_free(session: Session, code: str, tub_id: str | None) -> None:
    found = session.scalar(select(Tub.id).where(Tub.code == code))
    if found is not None and found != tub_id:
        raise Refused("name-taken", f"There is already a tub called {code}.")


def _known_system(session: Session, system_id: str | None) -> None:
    if system_id is not None and session.get(WaterSystem, system_id) is None:
        raise Invalid.at("#/water_system_id", "There is no such water system.", code="unknown-water-system")
