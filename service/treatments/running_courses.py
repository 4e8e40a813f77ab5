"""Courses that run: soaks that hold a dose, what their water holds, and when it was last changed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.protocols.models import ProtocolVersion
from service.protocols.rules import Kind
from service.treatments import courses
from service.treatments.courses import Level
from service.treatments.models import Treatment, TreatmentStep
from service.treatments.rules import ACTIVE, State, StepState
from service.tubs.models import Measurement, WaterChange


@dataclass(frozen=True)
class Course:
    """A running soak that holds a dose."""

    treatment: Treatment
    step: TreatmentStep
    content: Mapping[str, Any]
    levels: tuple[Level, ...]
    changes: int
    last_at: datetime

    @property
    def held(self) -> Mapping[str, Any]:
        """The maintained dose as written."""
        maintained: Mapping[str, Any] = self.content["maintained_dose"]
        return maintained

    @property
    def material_code(self) -> str:
        """The material it is dosed with."""
        return str(self.content["steps"][self.step.n - 1]["material"])

    def before(self, at: datetime) -> float:
        """What the water holds at `at`, mg/L."""
        return courses.before_change(self.levels, at, self.held["decay_per_day"])


def course_in(session: Session, tub_id: str) -> Course | None:
    """The running course of a tub, None when no dose is held in it."""
    return next((course for course in running_courses(session) if course.treatment.tub_id == tub_id), None)


def running_courses(session: Session) -> list[Course]:
    """Every running soak that holds a dose."""
    found = []
    for treatment, step, content in steps_in(session, StepState.RUNNING):
        if content.get("maintained_dose") and step.kind == Kind.SOAK and step.started_at:
            changes = list(
                session.scalars(
                    select(WaterChange)
                    .where(WaterChange.treatment_id == treatment.id)
                    .order_by(WaterChange.at, WaterChange.id)
                )
            )
            levels = _levels(session, treatment, step, content, changes)
            last_at = changes[-1].at if changes else step.started_at
            found.append(Course(treatment, step, content, levels, len(changes), last_at))
    return found


def _levels(
    session: Session,
    treatment: Treatment,
    step: TreatmentStep,
    content: Mapping[str, Any],
    changes: Sequence[WaterChange],
) -> tuple[Level, ...]:
    readings = session.execute(
        select(Measurement.at, Measurement.value).where(
            Measurement.tub_id == treatment.tub_id,
            Measurement.substance == content["maintained_dose"]["substance"],
            Measurement.at >= step.started_at,
            Measurement.voided_at.is_(None),
        )
    ).all()
    first = float((step.poured or {}).get("mg_per_l") or 0.0)
    dosed = [Level(change.at, change.dose_mg_per_l or 0.0) for change in changes]
    start = [Level(step.started_at, first)] if step.started_at else []
    # At one moment a reading is of the water before the dose, and the dose comes after it.
    return (*(Level(row.at, row.value) for row in readings), *start, *dosed)


def steps_in(session: Session, state: StepState) -> list[tuple[Treatment, TreatmentStep, Mapping[str, Any]]]:
    """The steps in this state of treatments under way, each with its treatment and the written protocol."""
    active = [one.value for one in (ACTIVE if state is StepState.OPEN else {State.RUNNING})]
    rows = session.execute(
        select(Treatment, TreatmentStep, ProtocolVersion.content)
        .join(TreatmentStep, TreatmentStep.treatment_id == Treatment.id)
        .join(ProtocolVersion, ProtocolVersion.id == Treatment.protocol_version_id)
        .where(TreatmentStep.state == state.value, Treatment.state.in_(active))
        .order_by(Treatment.id, TreatmentStep.n)
    ).all()
    return [(row[0], row[1], row[2]) for row in rows]
