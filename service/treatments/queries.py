"""Reading treatments: as answered, and as facts for the rooms above."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session, aliased

from service.core.errors import NotFound
from service.core.shapes import ExactAmount
from service.protocols.frozen import thaw
from service.protocols.measures import litres
from service.stores.models import Material, StockBatch, StockEntry
from service.treatments.ahead import (
    RunningStep,
    WaterChangeDue,
    running_steps,
    steps_to_start,
    water_changes_due,
)
from service.treatments.doses import DoseToCome, doses_to_come
from service.treatments.facts import steps_by_treatment, treatment_facts, written
from service.treatments.models import Treatment, TreatmentLot, TreatmentStep
from service.treatments.rules import ACTIVE
from service.treatments.rules_stems import lost_at_most
from service.treatments.washings import residue_of_lot, residue_of_tub

__all__ = [
    "DoseToCome",
    "RunningStep",
    "WaterChangeDue",
    "doses_to_come",
    "residue_of_lot",
    "residue_of_tub",
    "running_steps",
    "steps_to_start",
    "treatment_facts",
    "water_changes_due",
]
STEP = ("n", "kind", "state", "due_at", "started_at", "finished_at", "departure", "bath_id")
PLAIN = (
    "id",
    "tub_id",
    "state",
    "planned_at",
    "started_at",
    "ended_at",
    "departure",
    "override_reason",
    "trial_stems_reason",
    "survived_here",
    "by",
)


def treatments(*, state: str | None = None, tub: str | None = None, lot: str | None = None) -> Select[Any]:
    """Treatments that fit the query."""
    found = select(Treatment)
    if state is not None:
        found = found.where(Treatment.state == state)
    if tub is not None:
        found = found.where(Treatment.tub_id == tub)
    if lot is not None:
        of_lot = select(TreatmentLot.treatment_id).where(TreatmentLot.lot_id == lot)
        found = found.where(Treatment.id.in_(of_lot))
    return found


def treatment_by_id(session: Session, treatment_id: str, *, lock: bool = False) -> Treatment:
    """One treatment; raises NotFound."""
    found = session.get(Treatment, treatment_id, with_for_update=lock or None, populate_existing=lock)
    if found is None:
        raise NotFound("treatment")
    return found


def lot_ids_of(session: Session, treatment_id: str) -> list[str]:
    """The ids of a treatment's lots."""
    return list(
        session.scalars(
            select(TreatmentLot.lot_id)
            .where(TreatmentLot.treatment_id == treatment_id)
            .order_by(TreatmentLot.lot_id)
        )
    )


def steps_of(session: Session, treatment_id: str) -> list[TreatmentStep]:
    """The steps of a treatment in order."""
    statement = select(TreatmentStep).where(TreatmentStep.treatment_id == treatment_id)
    return list(session.scalars(statement.order_by(TreatmentStep.n)))


def running(session: Session) -> list[Treatment]:
    """Every treatment that is planned or running, by id."""
    statement = select(Treatment).where(Treatment.state.in_([state.value for state in ACTIVE]))
    return list(session.scalars(statement.order_by(Treatment.id)))


def active_in_water(session: Session, tub_ids: Collection[str]) -> list[Treatment]:
    """The planned and running treatments in these tubs."""
    return [treatment for treatment in running(session) if treatment.tub_id in tub_ids]


def treatment_view(session: Session, treatment: Treatment) -> dict[str, Any]:
    """One treatment as answered."""
    return treatment_views(session, [treatment])[treatment.id]


def treatment_views(session: Session, found: Sequence[Treatment]) -> dict[str, dict[str, Any]]:
    """Treatments as answered, by id."""
    ids = [treatment.id for treatment in found]
    told = written(session, {treatment.protocol_version_id for treatment in found})
    lots, steps, drawn = _lots(session, ids), steps_by_treatment(session, ids), _drawn(session, ids)
    return {
        treatment.id: {
            **{name: getattr(treatment, name) for name in PLAIN},
            "lost_at_most": _lost_at_most(treatment.survived_here),
            "protocol": told[treatment.protocol_version_id].code,
            "version": told[treatment.protocol_version_id].number,
            "water_volume": litres(treatment.water_volume_l),
            "lot_ids": lots[treatment.id],
            "steps": [
                _step_view(step, told[treatment.protocol_version_id].content, drawn)
                for step in steps[treatment.id]
            ],
        }
        for treatment in found
    }


def _lost_at_most(survived: int | None) -> float | None:
    return None if survived is None else lost_at_most(0, survived)


def _lots(session: Session, ids: Collection[str]) -> dict[str, list[str]]:
    rows = session.execute(
        select(TreatmentLot.treatment_id, TreatmentLot.lot_id)
        .where(TreatmentLot.treatment_id.in_(ids))
        .order_by(TreatmentLot.lot_id)
    ).all()
    found: dict[str, list[str]] = {id_: [] for id_ in ids}
    for row in rows:
        found[row.treatment_id].append(row.lot_id)
    return found


def _drawn(session: Session, ids: Collection[str]) -> dict[str, list[dict[str, Any]]]:
    """What every step drew, by the cause its lines name; reversed lines are left out."""
    reversal = aliased(StockEntry)
    rows = session.execute(
        select(
            StockEntry.cause_id, Material.code, Material.base_unit, StockBatch.id, func.sum(StockEntry.amount)
        )
        .join(StockBatch, StockBatch.id == StockEntry.batch_id)
        .join(Material, Material.id == StockBatch.material_id)
        .join(reversal, reversal.reverses_id == StockEntry.id, isouter=True)
        .where(
            StockEntry.treatment_id.in_(ids),
            StockEntry.cause_kind == "treatment_step",
            StockEntry.reverses_id.is_(None),
            reversal.id.is_(None),
        )
        .group_by(StockEntry.cause_id, Material.code, Material.base_unit, StockBatch.id)
        .order_by(func.min(StockEntry.at), StockBatch.id)
    ).all()
    found: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for cause, code, unit, batch_id, total in rows:
        found[cause].append(
            {"material": code, "batch_id": batch_id, "amount": ExactAmount.of(-int(total), unit)}
        )
    return found


def cause_of(treatment_id: str, n: int) -> str:
    """How lines of the ledger name a step."""
    return f"{treatment_id}/{n}"


def _step_view(
    step: TreatmentStep, content: Mapping[str, Any], drawn: Mapping[str, list[dict[str, Any]]]
) -> dict[str, Any]:
    poured = step.poured or {}
    return {
        **{name: getattr(step, name) for name in STEP},
        "title": content["steps"][step.n - 1]["title"],
        "sheet": None if step.sheet is None else thaw(step.sheet),
        "poured": thaw(poured.get("lines") or []),
        "result_mg_per_l": poured.get("mg_per_l"),
        "drawn": drawn.get(cause_of(step.treatment_id, step.n), []),
    }
