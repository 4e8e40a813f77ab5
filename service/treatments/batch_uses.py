"""Which treatments a batch of material was used in, and which lots are those plants today."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core.shapes import ExactAmount
from service.lots.models import Lot
from service.stores.ledger import Use, uses_of
from service.stores.models import Material, StockBatch
from service.treatments.facts import written
from service.treatments.models import Treatment, TreatmentLot, TreatmentStep

Reached = dict[str, list[tuple[str, str | None]]]  # per treatment: a lot, and the lot it was split from


def batch_uses(session: Session, batch: StockBatch) -> dict[str, Any]:
    """The treatments that a batch was used in, the first first, each with its lots.

    Those that were dipped into a bath mixed with it are among them. A part that was split off after the
    first use is a lot of the treatment as well.
    """
    material = session.get_one(Material, batch.material_id)
    uses = uses_of(session, batch.id)
    touched = [(use.treatment_id, use) for use in uses if use.treatment_id is not None]
    touched = sorted([*touched, *_dipped(session, uses)], key=lambda pair: (pair[1].first_at, pair[0]))
    since = {treatment_id: use.first_at for treatment_id, use in reversed(touched)}
    return {
        "batch_id": batch.id,
        "material": material.code,
        "batch_number": batch.batch_number,
        "blocked": batch.blocked,
        "block_reason": batch.block_reason,
        "treatments": _treatments(session, touched, _reached(session, since), material.base_unit),
    }


def _dipped(session: Session, uses: Sequence[Use]) -> list[tuple[str, Use]]:
    mixed: dict[str | None, Use] = {use.bath_id: use for use in uses if use.bath_id is not None}
    steps = session.scalars(select(TreatmentStep).where(TreatmentStep.bath_id.in_(list(mixed))))
    return [
        (step.treatment_id, replace(mixed[step.bath_id], first_at=step.started_at, last_at=step.started_at))
        for step in steps
        if step.started_at is not None
    ]


def _treatments(
    session: Session, touched: Sequence[tuple[str, Use]], reached: Reached, unit: str
) -> list[dict[str, Any]]:
    found = {row.id: row for row in session.scalars(select(Treatment).where(Treatment.id.in_(list(reached))))}
    told = written(session, {treatment.protocol_version_id for treatment in found.values()})
    lot_ids = {lot_id for lots in reached.values() for lot_id, _ in lots}
    statement = select(Lot.id, Lot.code, Lot.state).where(Lot.id.in_(lot_ids))
    lots = {row.id: row for row in session.execute(statement)}
    return [
        {
            "treatment_id": treatment_id,
            "bath_id": use.bath_id,
            "protocol": told[found[treatment_id].protocol_version_id].code,
            "version": told[found[treatment_id].protocol_version_id].number,
            "state": found[treatment_id].state,
            "tub_id": found[treatment_id].tub_id,
            "amount": ExactAmount.of(use.amount, unit),
            "first_at": use.first_at,
            "last_at": use.last_at,
            "lots": [
                {"id": lot_id, "code": lots[lot_id].code, "state": lots[lot_id].state, "split_from": parent}
                for lot_id, parent in reached[treatment_id]
            ],
        }
        for treatment_id, use in touched
    ]


def _reached(session: Session, since: Mapping[str, datetime]) -> Reached:
    statement = select(TreatmentLot.treatment_id, TreatmentLot.lot_id)
    rows = session.execute(
        statement.where(TreatmentLot.treatment_id.in_(list(since))).order_by(TreatmentLot.lot_id)
    )
    found: Reached = {treatment_id: [] for treatment_id in since}
    newest: dict[str, set[str]] = defaultdict(set)  # the lots just found, and the treatments they came from
    for treatment_id, lot_id in rows:
        found[treatment_id].append((lot_id, None))
        newest[lot_id].add(treatment_id)
    while newest:
        parts = select(Lot.id, Lot.parent_lot_id, Lot.split_at).where(Lot.parent_lot_id.in_(list(newest)))
        reached: dict[str, set[str]] = defaultdict(set)
        for lot_id, parent, split_at in session.execute(parts.order_by(Lot.id)):
            for treatment_id in newest[str(parent)]:
                if split_at is not None and split_at >= since[treatment_id]:
                    found[treatment_id].append((lot_id, parent))
                    reached[lot_id].add(treatment_id)
        newest = reached
    return found
