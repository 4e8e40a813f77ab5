"""What is still to come: steps to end and to begin, and water changes."""

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.lots.models import Lot, Stay
from service.lots.rules import State as LotState
from service.treatments import courses
from service.treatments.models import Treatment, TreatmentLot, TreatmentStep
from service.treatments.rules import StepState
from service.treatments.running_courses import Course, running_courses, steps_in
from service.tubs.models import WaterChange


@dataclass(frozen=True)
class RunningStep:
    """A step that runs, or is the next to begin, with what a person needs to find it."""

    treatment_id: str
    n: int
    kind: str
    title: str
    due_at: datetime
    tub_id: str
    lot_ids: tuple[str, ...]


@dataclass(frozen=True)
class WaterChangeDue:
    """The next water change of a tub; `treatment_id` names the course it re-doses."""

    tub_id: str
    due_at: datetime
    fraction: float
    redose: bool
    treatment_id: str | None
    lot_ids: tuple[str, ...]


def running_steps(session: Session) -> list[RunningStep]:
    """Every step that runs, with the moment it should end."""
    rows = steps_in(session, StepState.RUNNING)
    lots = _lots(session, {treatment.id for treatment, _, _ in rows})
    return [
        _shown(treatment, step, content, step.due_at, lots)
        for treatment, step, content in rows
        if step.due_at
    ]


def steps_to_start(session: Session) -> list[RunningStep]:
    """The next step of every treatment in which none runs; due when the one before it was done."""
    rows = steps_in(session, StepState.OPEN)
    busy = {treatment.id for treatment, _, _ in steps_in(session, StepState.RUNNING)}
    lots = _lots(session, {treatment.id for treatment, _, _ in rows})
    first: dict[str, RunningStep] = {}
    for treatment, step, content in rows:
        if treatment.id not in busy and treatment.id not in first:
            since = _last_done(session, treatment.id) or treatment.planned_at
            first[treatment.id] = _shown(treatment, step, content, since, lots)
    return list(first.values())


def water_changes_due(session: Session, now: datetime) -> list[WaterChangeDue]:
    """The next water change of every tub with a course or with lots in quarantine, by when it is due."""
    found = [
        _course_change(course, _lots(session, {course.treatment.id})) for course in running_courses(session)
    ]
    taken = {due.tub_id for due in found}
    found += [due for due in _quarantine_changes(session) if due.tub_id not in taken]
    return sorted(found, key=lambda due: (due.due_at, due.tub_id))


def next_change_of(session: Session, tub_id: str, now: datetime) -> datetime | None:
    """When a tub's next water change is due, None when nothing asks for one."""
    return next((due.due_at for due in water_changes_due(session, now) if due.tub_id == tub_id), None)


def _course_change(course: Course, lots: Mapping[str, tuple[str, ...]]) -> WaterChangeDue:
    rhythm = course.content.get("water_change") or {}
    return WaterChangeDue(
        tub_id=course.treatment.tub_id,
        due_at=courses.next_change(rhythm, course.changes, course.last_at),
        fraction=rhythm.get("fraction", 1.0),
        redose=bool(rhythm.get("redose", True)),
        treatment_id=course.treatment.id,
        lot_ids=lots[course.treatment.id],
    )


def _quarantine_changes(session: Session) -> list[WaterChangeDue]:
    rows = session.execute(
        select(Lot.id, Lot.tub_id, Stay.entered_at, Lot.state_since)
        .join(Stay, (Stay.lot_id == Lot.id) & Stay.left_at.is_(None))
        .where(Lot.state == LotState.IN_QUARANTINE.value, Lot.tub_id.is_not(None))
        .order_by(Lot.id)
    ).all()
    tubs: dict[str, list[Any]] = defaultdict(list)
    for row in rows:
        tubs[row.tub_id].append(row)
    changes = _changes(session, tubs)
    found = []
    for tub_id, inside in tubs.items():
        # Fresh water: when they came in, or when their treatment with its last rinse was over.
        since = max(max(row.entered_at, row.state_since) for row in inside)
        later = [at for at in changes[tub_id] if at >= since]
        due_at = courses.next_change(None, len(later), max([since, *later]))
        lot_ids = tuple(row.id for row in inside)
        found.append(WaterChangeDue(tub_id, due_at, 1.0, redose=False, treatment_id=None, lot_ids=lot_ids))
    return found


def _changes(session: Session, tub_ids: Collection[str]) -> dict[str, list[datetime]]:
    found: dict[str, list[datetime]] = {tub_id: [] for tub_id in tub_ids}
    statement = select(WaterChange.tub_id, WaterChange.at).where(WaterChange.tub_id.in_(tub_ids))
    for row in session.execute(statement.order_by(WaterChange.at)):
        found[row.tub_id].append(row.at)
    return found


def _last_done(session: Session, treatment_id: str) -> datetime | None:
    latest = func.max(TreatmentStep.finished_at, type_=TreatmentStep.finished_at.type)
    return session.scalar(select(latest).where(TreatmentStep.treatment_id == treatment_id))


def _lots(session: Session, ids: Collection[str]) -> dict[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {id_: [] for id_ in ids}
    statement = select(TreatmentLot.treatment_id, TreatmentLot.lot_id).where(
        TreatmentLot.treatment_id.in_(ids)
    )
    for row in session.execute(statement.order_by(TreatmentLot.lot_id)):
        found[row.treatment_id].append(row.lot_id)
    return {id_: tuple(lots) for id_, lots in found.items()}


def _shown(
    treatment: Treatment,
    step: TreatmentStep,
    content: Mapping[str, Any],
    due_at: datetime,
    lots: Mapping[str, tuple[str, ...]],
) -> RunningStep:
    title = content["steps"][step.n - 1]["title"]
    return RunningStep(treatment.id, step.n, step.kind, title, due_at, treatment.tub_id, lots[treatment.id])
