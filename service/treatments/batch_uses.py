"""Which treatments a batch of material was used in, and which lots are those plants today."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core.shapes import ExactAmount
from service.lots.models import Lot
from service.stores.ledger import Use, uses_of
from service.stores.models import Material, StockBatch
from service.treatments.facts import written
from service.treatments.models import Treatment, TreatmentLot

Reached = dict[str, list[tuple[str, str | None]]]  # per treatment: a lot, and the lot it was split from


def batch_uses(session: Session, batch: StockBatch) -> dict[str, Any]:
    """The treatments that drew from a batch, in the order of the first draw, each with its lots.

    A part that was split off after the first draw is a lot of the treatment as well.
    """
    material = session.get_one(Material, batch.material_id)
    uses = uses_of(session, batch.id)
    reached = _reached(session, {use.treatment_id: use.first_at for use in uses})
    return {
        "batch_id": batch.id,
        "material": material.code,
        "batch_number": batch.batch_number,
        "blocked": batch.blocked,
        "block_reason": batch.block_reason,
        "treatments": _treatments(session, uses, reached, material.base_unit),
    }


def _treatments(session: Session, uses: Sequence[Use], reached: Reached, unit: str) -> list[dict[str, Any]]:
    ids = [use.treatment_id for use in uses]
    found = {row.id: row for row in session.scalars(select(Treatment).where(Treatment.id.in_(ids)))}
    told = written(session, {treatment.protocol_version_id for treatment in found.values()})
    lot_ids = {lot_id for lots in reached.values() for lot_id, _ in lots}
    statement = select(Lot.id, Lot.code, Lot.state).where(Lot.id.in_(lot_ids))
    lots = {row.id: row for row in session.execute(statement)}
    return [
        {
            "treatment_id": use.treatment_id,
            "protocol": told[found[use.treatment_id].protocol_version_id].code,
            "version": told[found[use.treatment_id].protocol_version_id].number,
            "state": found[use.treatment_id].state,
            "tub_id": found[use.treatment_id].tub_id,
            "amount": ExactAmount.of(use.amount, unit),
            "first_at": use.first_at,
            "last_at": use.last_at,
            "lots": [
                {"id": lot_id, "code": lots[lot_id].code, "state": lots[lot_id].state, "split_from": parent}
                for lot_id, parent in reached[use.treatment_id]
            ],
        }
        for use in uses
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
