"""The doses that treatments under way will still need, by the day they are due."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy.orm import Session

from service.protocols.mixing import per_unit
from service.protocols.queries import bench_for
from service.protocols.rules import Kind
from service.protocols.sheets import Bench, step_needs
from service.stores.queries import last_delivered
from service.treatments import courses
from service.treatments.courses import Level
from service.treatments.models import Treatment, TreatmentStep
from service.treatments.rules import StepState
from service.treatments.running_courses import Course, running_courses, steps_in


@dataclass(frozen=True)
class DoseToCome:
    """A dose that a treatment under way will still need, in base units of the material."""

    treatment_id: str
    material_code: str
    at: datetime
    base_units: int


def doses_to_come(session: Session, now: datetime) -> list[DoseToCome]:
    """What treatments under way will still draw: open steps, and every re-dose until a course should end.

    An open step is due when those before it should be over. A lot is not released before its course is, so
    that the end of the course bounds the re-doses.
    """
    found: list[DoseToCome] = []
    for treatment, step, content, at in _open_steps(session, now):
        bench = _bench(session, content, now)
        if content["steps"][step.n - 1].get("material"):
            needs = step_needs(content, step.n, treatment.water_volume_l, bench)
            found += [DoseToCome(treatment.id, need.material_code, at, need.base_units) for need in needs]
        if content.get("maintained_dose") and step.kind == Kind.SOAK:
            held = content["maintained_dose"]["value"]
            course = Course(treatment, step, content, (Level(at, held),), 0, at)
            found += _redoses(course, bench, at, at + _length(content, step))
    for course in running_courses(session):
        if course.step.due_at is not None:
            bench = _bench(session, course.content, now)
            found += _redoses(course, bench, now, course.step.due_at)
    return sorted(found, key=lambda dose: (dose.at, dose.material_code))


def _bench(session: Session, content: Mapping[str, Any], now: datetime) -> Bench:
    """What there is to dose with; where bottles differ and none is usable, as strong as the last was."""
    bench = bench_for(session, content, at=now)
    delivered = last_delivered(session, bench.figures)
    figures = {code: known.as_delivered(delivered.get(code)) for code, known in bench.figures.items()}
    return replace(bench, figures=figures)


def _open_steps(
    session: Session, now: datetime
) -> Iterator[tuple[Treatment, TreatmentStep, Mapping[str, Any], datetime]]:
    """Every open step with the moment it should begin: one after the other, the first not before now."""
    free_at: dict[str, datetime] = {}
    for treatment, step, _ in steps_in(session, StepState.RUNNING):
        free_at[treatment.id] = max(now, step.due_at or now)
    for treatment, step, content in steps_in(session, StepState.OPEN):
        at = free_at.get(treatment.id, max(now, treatment.planned_at))
        free_at[treatment.id] = at + _length(content, step)
        yield treatment, step, content, at


def _length(content: Mapping[str, Any], step: TreatmentStep) -> timedelta:
    return timedelta(seconds=content["steps"][step.n - 1]["duration"]["target_s"])


def _redoses(course: Course, bench: Bench, now: datetime, until: datetime) -> list[DoseToCome]:
    rhythm, strength = course.content.get("water_change"), _strength(course.material_code, bench)
    if strength is None:
        return []
    found: list[DoseToCome] = []
    level, since = course.before(now), now
    for at in courses.changes_to_come(rhythm, course.changes, course.last_at, until):
        moment = max(at, now)
        held = courses.before_change([Level(since, level)], moment, course.held["decay_per_day"])
        change = courses.redose(held, (rhythm or {}).get("fraction", 1.0), course.held["value"])
        milligrams = change.add_mg_per_l * course.treatment.water_volume_l
        base_units = round(1000 * milligrams / strength)
        found.append(DoseToCome(course.treatment.id, course.material_code, moment, base_units))
        level, since = course.held["value"], moment
    return found


def _strength(code: str, bench: Bench) -> float | None:
    """Milligrams in one mL or g: of the first usable batch, else as the material nominally has."""
    known = (per_unit(batch) for batch in bench.batches[code] if batch.usable)
    figures = bench.figures[code]
    return next((strength for strength in known if strength), figures.nominal_per_unit)
