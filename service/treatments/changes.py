"""Changing the water of a tub, with the re-dose that a running course needs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from service.core.errors import NotFound, Refused
from service.core.ids import new_id
from service.core.reasons import Reason
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.lots.actions import lock_water_group
from service.lots.models import Lot
from service.protocols import measures
from service.protocols.frozen import freeze
from service.protocols.mixing import Mix, mix
from service.protocols.queries import bench_for
from service.protocols.sheets import Need
from service.stores.actions import Drawn
from service.treatments import courses, pouring
from service.treatments.ahead import next_change_of
from service.treatments.courses import Redose
from service.treatments.pouring import Cause
from service.treatments.running_courses import Course, course_in
from service.tubs.models import Tub, WaterChange

LEAST_SHARE = 0.02  # of the target: a smaller re-dose is not worth measuring; assumption


@dataclass(frozen=True)
class Changed:
    """A water change as booked: what was drawn, when the next is due, and the arithmetic of the re-dose."""

    change: WaterChange
    drawn: Sequence[Drawn]
    due_next: datetime | None
    redose: Redose | None

    def view(self) -> dict[str, Any]:
        """The change as answered."""
        levels = self.redose
        return {
            "id": self.change.id,
            "tub_id": self.change.tub_id,
            "at": self.change.at,
            "fraction": self.change.fraction,
            "redose": self.change.redose,
            "treatment_id": self.change.treatment_id,
            "drawn": pouring.drawn_shape(self.drawn),
            "due_next": self.due_next,
            "before_mg_per_l": None if levels is None else levels.before_mg_per_l,
            "after_change_mg_per_l": None if levels is None else levels.after_mg_per_l,
            "dose_mg_per_l": self.change.dose_mg_per_l,
            "extra_change": None if levels is None else levels.extra_change,
        }


def change_water(session: Session, act: Act, tub_id: str, facts: Mapping[str, Any]) -> Changed:
    """Replace a share of a tub's water; `redose` brings a running course back to its target.

    The dose is V * max(0, T - C_after), with what the water held before from the last reading or dose, less
    decay. Raises NotFound, Refused `nothing-to-redose` without a course, `insufficient-stock`.
    """
    inside = lock_water_group(session, [], [tub_id], since=act.at)
    tub = session.get(Tub, tub_id)
    if tub is None:
        raise NotFound("tub")
    course = course_in(session, tub_id)
    if facts["redose"] and course is None:
        raise Refused("nothing-to-redose", "No running course holds a dose in this tub.")
    change = WaterChange(
        id=new_id(),
        tub_id=tub_id,
        at=act.at,
        fraction=facts["fraction"],
        redose=facts["redose"],
        treatment_id=None if course is None else course.treatment.id,
        sheet=None,  # said, so that a JSON null is stored
        recorded_at=act.now,
        by=act.by,
    )
    lots = [lot for lot in inside if lot.tub_id == tub_id]
    levels, drawn = None, []
    if course is not None:
        not_before(act.at, course.last_at, "the dose before it")
        levels = courses.redose(course.before(act.at), facts["fraction"], course.held["value"])
        change.dose_mg_per_l = levels.after_mg_per_l
        if facts["redose"]:
            drawn = _redose(session, act, (change, course, levels), facts["poured"], (tub, *lots))
    session.add(change)
    about = [tub, *lots, *([] if course is None else [course.treatment])]
    record(session, act, "tub.water_changed", about, after=_told(change, levels))
    return Changed(change, drawn, next_change_of(session, tub_id, act.now), levels)


def _redose(
    session: Session,
    act: Act,
    asked: tuple[WaterChange, Course, Redose],
    lines: Sequence[Mapping[str, Any]],
    places: tuple[Tub | Lot, ...],
) -> list[Drawn]:
    change, course, levels = asked
    volume_l, material = course.treatment.water_volume_l, course.material_code
    about = (*places, course.treatment)
    cause = Cause("redose", "water_change", change.id, course.treatment.id, about)
    pours = pouring.poured(session, lines, material, act.at)
    if pours:
        change.dose_mg_per_l = pouring.result_mg_per_l(
            session, pours, material, volume_l, levels.after_mg_per_l
        )
        return pouring.draw_pours(session, act, pours, material, cause)
    if levels.add_mg_per_l <= LEAST_SHARE * course.held["value"]:
        return []
    mixed = _mixed(session, act, course, levels)
    change.dose_mg_per_l = levels.after_mg_per_l + mixed.result_mg_per_l
    change.sheet = freeze({"amounts": measures.lines(mixed), "result_mg_per_l": change.dose_mg_per_l})
    unit = mixed.figures.base_unit
    needs = [
        Need(0, material, portion.batch.batch_id, portion.base_units, unit)
        for portion in mixed.portions
        if portion.batch is not None
    ]
    return pouring.draw_needs(session, act, needs, cause)


def _mixed(session: Session, act: Act, course: Course, levels: Redose) -> Mix:
    bench = bench_for(session, course.content, at=act.at, lock=True)
    batches = bench.batches[course.material_code]
    mixed = mix(
        bench.figures[course.material_code],
        target_mg_per_l=levels.add_mg_per_l,
        volume_l=course.treatment.water_volume_l,
        batches=batches,
        left={batch.batch_id: batch.balance for batch in batches},
    )
    # The rounding of a small re-dose counts by what it does to the tub, not to the re-dose.
    off = abs(mixed.error) * levels.add_mg_per_l / course.held["value"]
    blocks = [
        block
        for block in mixed.blocks
        if block.code != "rounding-too-coarse" or off > mixed.figures.rounding_block
    ]
    Refused.unless_empty(blocks[0].code if blocks else "", blocks)
    if mixed.missing:
        needed = measures.words(measures.amount(mixed.missing, mixed.figures.unit))
        detail = f"Not enough usable {mixed.figures.name}: {needed} are missing."
        raise Refused("insufficient-stock", detail, [Reason("insufficient-stock", detail, needed)])
    return mixed


def _told(change: WaterChange, levels: Redose | None) -> dict[str, Any]:
    return {
        "water_change_id": change.id,
        "fraction": change.fraction,
        "redose": change.redose,
        "before_mg_per_l": None if levels is None else levels.before_mg_per_l,
        "dose_mg_per_l": change.dose_mg_per_l,
    }
