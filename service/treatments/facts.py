"""Treatments as facts for the rooms above: what was done, dosed and measured, when."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core.among import among
from service.lots.queries import lineages
from service.protocols.models import Protocol, ProtocolVersion
from service.treatments.models import Treatment, TreatmentLot, TreatmentStep
from service.treatments.rules import DoseFact, StepFact, TreatmentFact
from service.tubs.models import Measurement, WaterChange


class Told(NamedTuple):
    """A protocol version as treatments name it."""

    code: str
    method: str
    number: int
    content: Mapping[str, Any]


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
        .where(among(ProtocolVersion.id, version_ids))
    ).all()
    return {row.id: Told(row.code, row.method, row.number, row.content) for row in rows}


def steps_by_treatment(session: Session, ids: Collection[str]) -> dict[str, list[TreatmentStep]]:
    """The steps of each treatment in order."""
    found: dict[str, list[TreatmentStep]] = {id_: [] for id_ in ids}
    statement = select(TreatmentStep).where(among(TreatmentStep.treatment_id, ids)).order_by(TreatmentStep.n)
    for step in session.scalars(statement):
        found[step.treatment_id].append(step)
    return found


def treatment_facts(session: Session, lot_ids: Collection[str]) -> dict[str, list[TreatmentFact]]:
    """Every treatment that each lot went through, in order; a part split off has its parent's until then."""
    chains = lineages(session, lot_ids)
    asked = set(lot_ids) | {ancestor for chain in chains.values() for ancestor, _ in chain}
    rows = session.execute(
        select(TreatmentLot.lot_id, Treatment)
        .join(Treatment, Treatment.id == TreatmentLot.treatment_id)
        .where(among(TreatmentLot.lot_id, asked))
        .order_by(Treatment.planned_at, Treatment.id)
    ).all()
    of_lot: dict[str, list[Treatment]] = defaultdict(list)
    for row in rows:
        of_lot[row[0]].append(row[1])
    facts = _facts(session, {row[1].id: row[1] for row in rows}) if rows else {}
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
    steps, doses = steps_by_treatment(session, found), _redoses(session, found)
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


def _redoses(session: Session, ids: Collection[str]) -> dict[str, list[DoseFact]]:
    rows = session.execute(
        select(WaterChange.treatment_id, WaterChange.at, WaterChange.dose_mg_per_l)
        .where(among(WaterChange.treatment_id, ids), WaterChange.redose.is_(True))
        .order_by(WaterChange.at, WaterChange.id)
    ).all()
    found: dict[str, list[DoseFact]] = {id_: [] for id_ in ids}
    for row in rows:
        found[row.treatment_id].append(DoseFact(row.at, row.dose_mg_per_l or 0.0))
    return found


def _measured(session: Session, found: Collection[Treatment]) -> dict[str, list[tuple[datetime, str, float]]]:
    rows = session.execute(
        select(Measurement.tub_id, Measurement.at, Measurement.substance, Measurement.value)
        .where(among(Measurement.tub_id, {treatment.tub_id for treatment in found}))
        .where(Measurement.voided_at.is_(None))
        .order_by(Measurement.at)
    ).all()
    by_tub: dict[str, list[tuple[datetime, str, float]]] = defaultdict(list)
    for row in rows:
        by_tub[row.tub_id].append((row.at, row.substance, row.value))
    return by_tub
