"""Reading treatments: as answered, and as facts for the rooms above."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session, aliased

from service.core.errors import NotFound
from service.core.shapes import ExactAmount
from service.lots.queries import lineages
from service.protocols.measures import litres
from service.protocols.models import Protocol, ProtocolVersion
from service.protocols.sheets import thaw
from service.stores.models import Material, StockBatch, StockEntry
from service.treatments.ahead import (
    DoseToCome,
    RunningStep,
    WaterChangeDue,
    doses_to_come,
    running_steps,
    steps_to_start,
    water_changes_due,
)
from service.treatments.models import Treatment, TreatmentLot, TreatmentStep
from service.treatments.rules import ACTIVE, DoseFact, StepFact, TreatmentFact
from service.treatments.washings import residue_of_lot, residue_of_tub
from service.tubs.models import Measurement, WaterChange

__all__ = [
    "DoseToCome",
    "RunningStep",
    "WaterChangeDue",
    "doses_to_come",
    "residue_of_lot",
    "residue_of_tub",
    "running_steps",
    "steps_to_start",
    "water_changes_due",
]
STEP = ("n", "kind", "state", "due_at", "started_at", "finished_at", "departure")
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
    "by",
)


class Told(NamedTuple):
    """A protocol version as treatments name it."""

    code: str
    method: str
    number: int
    content: Mapping[str, Any]


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
    lots, steps, drawn = _lots(session, ids), _steps(session, ids), _drawn(session, ids)
    return {
        treatment.id: {
            **{name: getattr(treatment, name) for name in PLAIN},
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


def written(session: Session, version_ids: Collection[str]) -> dict[str, Told]:
    """Protocol versions by their ids."""
    rows = session.execute(
        select(
            ProtocolVersion.id,
            Protocol.code,
            Protocol.method,
            ProtocolVersion.number,
            ProtocolVersion.content,
        )
        .join(Protocol, Protocol.id == ProtocolVersion.protocol_id)
        .where(ProtocolVersion.id.in_(version_ids))
    ).all()
    return {row.id: Told(row.code, row.method, row.number, row.content) for row in rows}


def treatment_facts(session: Session, lot_ids: Collection[str]) -> dict[str, list[TreatmentFact]]:
    """Every treatment that each lot went through, in order; a part split off has its parent's until then."""
    chains = lineages(session, lot_ids)
    asked = set(lot_ids) | {ancestor for chain in chains.values() for ancestor, _ in chain}
    rows = session.execute(
        select(TreatmentLot.lot_id, Treatment)
        .join(Treatment, Treatment.id == TreatmentLot.treatment_id)
        .where(TreatmentLot.lot_id.in_(asked))
        .order_by(Treatment.planned_at, Treatment.id)
    ).all()
    of_lot: dict[str, list[Treatment]] = defaultdict(list)
    for row in rows:
        of_lot[row[0]].append(row[1])
    facts = _facts(session, {row[1].id: row[1] for row in rows})
    return {
        lot_id: [
            facts[treatment.id]
            for own_id, until in [*reversed(chains[lot_id]), (lot_id, None)]
            for treatment in of_lot[own_id]
            if until is None or (treatment.started_at is not None and treatment.started_at <= until)
        ]
        for lot_id in lot_ids
    }


def _facts(session: Session, found: Mapping[str, Treatment]) -> dict[str, TreatmentFact]:
    told = written(session, {treatment.protocol_version_id for treatment in found.values()})
    steps, doses = _steps(session, found), _redoses(session, found)
    measured = _measured(session, found.values())
    return {
        treatment.id: _fact(
            treatment,
            told[treatment.protocol_version_id],
            steps[treatment.id],
            doses[treatment.id],
            measured[treatment.tub_id],
        )
        for treatment in found.values()
    }


def _fact(
    treatment: Treatment,
    told: Told,
    steps: Sequence[TreatmentStep],
    redoses: Sequence[DoseFact],
    measured: Sequence[tuple[datetime, str, float]],
) -> TreatmentFact:
    held = told.content.get("maintained_dose")
    soak = next((step for step in steps if held and step.kind == "soak" and step.started_at), None)
    first = [] if soak is None or soak.started_at is None else [DoseFact(soak.started_at, _poured(soak))]
    end = None if soak is None else soak.finished_at
    return TreatmentFact(
        treatment_id=treatment.id,
        method=told.method,
        protocol_code=told.code,
        number=told.number,
        content=told.content,
        state=treatment.state,
        started_at=treatment.started_at,
        ended_at=treatment.ended_at,
        departures=tuple(text for text in [*(step.departure for step in steps), treatment.departure] if text),
        steps=tuple(StepFact(s.n, s.kind, s.started_at, s.finished_at, s.departure) for s in steps),
        doses=(*first, *redoses),
        measured=tuple(
            (at, value)
            for at, substance, value in measured
            if held
            and first
            and substance == held["substance"]
            and at >= first[0].at
            and (end is None or at <= end)
        ),
    )


def _poured(step: TreatmentStep) -> float:
    return float((step.poured or {}).get("mg_per_l") or 0.0)


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


def _steps(session: Session, ids: Collection[str]) -> dict[str, list[TreatmentStep]]:
    found: dict[str, list[TreatmentStep]] = {id_: [] for id_ in ids}
    statement = select(TreatmentStep).where(TreatmentStep.treatment_id.in_(ids)).order_by(TreatmentStep.n)
    for step in session.scalars(statement):
        found[step.treatment_id].append(step)
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


def _redoses(session: Session, ids: Collection[str]) -> dict[str, list[DoseFact]]:
    rows = session.execute(
        select(WaterChange.treatment_id, WaterChange.at, WaterChange.dose_mg_per_l)
        .where(WaterChange.treatment_id.in_(ids), WaterChange.redose.is_(True))
        .order_by(WaterChange.at, WaterChange.id)
    ).all()
    found: dict[str, list[DoseFact]] = {id_: [] for id_ in ids}
    for row in rows:
        found[row.treatment_id].append(DoseFact(row.at, row.dose_mg_per_l or 0.0))
    return found


def _measured(session: Session, found: Collection[Treatment]) -> dict[str, list[tuple[datetime, str, float]]]:
    rows = session.execute(
        select(Measurement.tub_id, Measurement.at, Measurement.substance, Measurement.value)
        .where(Measurement.tub_id.in_({treatment.tub_id for treatment in found}))
        .where(Measurement.voided_at.is_(None))
        .order_by(Measurement.at)
    ).all()
    by_tub: dict[str, list[tuple[datetime, str, float]]] = defaultdict(list)
    for row in rows:
        by_tub[row.tub_id].append((row.at, row.substance, row.value))
    return by_tub
