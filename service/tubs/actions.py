"""Adding and changing tubs and water systems, and entering what test kits read."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core.errors import Invalid, Refused
from service.journal.actions import record
from service.journal.acts import Act
from service.science.amounts import celsius, litres
from service.tubs.models import FormerWater, Measurement, Tub, WaterSystem
from service.tubs.rules import Substance, measurement_reasons


def add_tub(session: Session, act: Act, facts: Mapping[str, Any]) -> Tub:
    """Add a tub; refused when its code is taken."""
    columns = _columns(session, facts)
    _code_is_free(session, columns["code"], None)
    tub = Tub(created_at=act.now, **columns)
    session.add(tub)
    record(session, act, "tub.added", [tub], after=columns)
    return tub


def change_tub(session: Session, act: Act, tub: Tub, changes: Mapping[str, Any]) -> None:
    """Change a locked tub.

    Refused when its new code is taken, and `tub-not-empty` when it would join or leave a water system,
    or go out of use, with lots inside: their water would meet other water.
    """
    columns = _columns(session, changes)
    _code_is_free(session, columns.get("code", tub.code), tub.id)
    moved = columns.get("water_system_id", tub.water_system_id) != tub.water_system_id
    if tub.filling_since is not None and (moved or not columns.get("active", True)):
        detail = "There are lots in this tub; move them out first."
        raise Refused("tub-not-empty", detail)
    if moved:  # its water was that of the system for as long: who was in it then is still within reach
        session.add(FormerWater(tub_id=tub.id, water_system_id=tub.water_system_id, until=act.now))
    before = {name: getattr(tub, name) for name in columns}
    for name, value in columns.items():
        setattr(tub, name, value)
    record(session, act, "tub.changed", [tub], before=before, after=columns)


def add_water_system(session: Session, act: Act, name: str) -> WaterSystem:
    """Add a water system; refused when its name is taken."""
    if session.scalar(select(WaterSystem.id).where(WaterSystem.name == name)) is not None:
        raise Refused("name-taken", f"There is already a water system called {name}.")
    system = WaterSystem(name=name, created_at=act.now)
    session.add(system)
    record(session, act, "water_system.added", [system], after={"name": name})
    return system


def record_measurement(session: Session, act: Act, tub: Tub, facts: Mapping[str, Any]) -> Measurement:
    """Enter what a test kit read of the water of a locked tub: mg/L, or pH."""
    reasons = measurement_reasons(Substance(facts["substance"]), facts["value"])
    if reasons:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)
    measurement = Measurement(tub_id=tub.id, at=act.at, recorded_at=act.now, by=act.by, **facts)
    session.add(measurement)
    record(session, act, "tub.measured", [tub], after=facts)
    return measurement


def _columns(session: Session, facts: Mapping[str, Any]) -> dict[str, Any]:
    columns = {name: value for name, value in facts.items() if name not in {"volume", "set_point"}}
    if "volume" in facts:
        columns["volume_l"] = float(litres(facts["volume"]))
    if "set_point" in facts:
        set_point = facts["set_point"]
        columns["set_point_c"] = None if set_point is None else float(celsius(set_point))
    system_id = columns.get("water_system_id")
    if system_id is not None and session.get(WaterSystem, system_id) is None:
        raise Invalid.at("#/water_system_id", "There is no such water system.", code="unknown-water-system")
    return columns


def _code_is_free(session: Session, code: str, tub_id: str | None) -> None:
    found = session.scalar(select(Tub.id).where(Tub.code == code))
    if found is not None and found != tub_id:
        raise Refused("name-taken", f"There is already a tub with the code {code}.")
