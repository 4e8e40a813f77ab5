"""What happened to the water round a lot and in a tub: the history that residues are judged by."""

from collections.abc import Collection, Iterable, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, and_, or_, select
from sqlalchemy.orm import Session

from service.core.reasons import Reason
from service.lots.queries import lineage, stays_of
from service.protocols.queries import between
from service.protocols.rules import FULL_CHANGE, Kind, Residue, Washing, planned_reasons, residues
from service.treatments.models import Treatment, TreatmentLot, TreatmentStep
from service.tubs.models import Measurement, ToolDisinfection, ToolUse, WaterChange

# At one moment a rinse ends before the next bath begins.
ORDER = {"rinse": 0, "reading": 1, "bath": 2}
CLEANING = {"bleach": Washing("bath", "chlorine"), "hot_water": Washing("rinse")}
Timed = tuple[datetime, Washing]


def tub_washings(session: Session, tub_id: str, at: datetime) -> list[Washing]:
    """What happened in a tub up to `at`, in order."""
    # What was in a bath of its own never came into the tub.
    steps = _steps(session, and_(Treatment.tub_id == tub_id, TreatmentStep.bath_id.is_(None)))
    return _ordered(
        [
            *steps,
            *_changes(session, _in(WaterChange, [(tub_id, None, None)])),
            *_readings(session, _in(Measurement, [(tub_id, None, None)])),
        ],
        at,
    )


def lot_washings(session: Session, lot_id: str, at: datetime) -> list[Washing]:
    """What a lot went through up to `at`, before a split as part of its parent, in order."""
    found: list[Timed] = []
    for own_id, until in [(lot_id, None), *lineage(session, lot_id)]:
        treated = select(TreatmentLot.treatment_id).where(TreatmentLot.lot_id == own_id)
        spans = [(s.tub_id, s.entered_at, s.left_at) for s in stays_of(session, [own_id])[own_id]]
        past = [
            *_steps(session, Treatment.id.in_(treated)),
            *_changes(session, _in(WaterChange, spans)),
            *_readings(session, _in(Measurement, spans)),
        ]
        found += [timed for timed in past if until is None or timed[0] <= until]
    return _ordered(found, at)


def tool_washings(session: Session, tool_id: str, at: datetime) -> list[Washing]:
    """What a net, tray or bucket went through up to `at`: the baths it was dipped into, in order.

    Bleach as its own disinfection is a bath of chlorine; hot water and clean tubs rinse it.
    """
    uses = session.execute(
        select(ToolUse.at, ToolUse.tub_id).where(ToolUse.tool_id == tool_id, ToolUse.at <= at)
    ).all()
    dipped = [(use.at, _dipped(session, use.tub_id, use.at)) for use in uses]
    cleaned = session.execute(
        select(ToolDisinfection.at, ToolDisinfection.method).where(
            ToolDisinfection.tool_id == tool_id, ToolDisinfection.method.in_(CLEANING)
        )
    ).all()
    return _ordered(
        [
            *((moment, washing) for moment, washings in dipped for washing in washings),
            *((row.at, CLEANING[row.method]) for row in cleaned),
        ],
        at,
    )


def _dipped(session: Session, tub_id: str, at: datetime) -> list[Washing]:
    held = residue_of_tub(session, tub_id, at)
    baths = [Washing("bath", residue.substance) for residue in held if residue.rinses == 0]
    return baths or [Washing("rinse")]


def residue_of_lot(session: Session, lot_id: str, at: datetime) -> list[Residue]:
    """What may still cling to a lot at `at`."""
    return residues(lot_washings(session, lot_id, at), between)


def residue_of_tub(session: Session, tub_id: str, at: datetime) -> list[Residue]:
    """What may still be in a tub at `at`."""
    return residues(tub_washings(session, tub_id, at), between)


def unsafe_reasons(
    session: Session,
    lot_ids: Iterable[str],
    tub_id: str,
    at: datetime,
    steps: Sequence[tuple[str, str | None]],
    *,
    tool_ids: Iterable[str] = (),
) -> list[Reason]:
    """Why these steps (kind, substance) may not follow what lots, tub and tools went through."""
    pasts = [
        tub_washings(session, tub_id, at),
        *(lot_washings(session, lot_id, at) for lot_id in lot_ids),
        *(tool_washings(session, tool_id, at) for tool_id in tool_ids),
    ]
    found = [reason for past in pasts for reason in planned_reasons(past, steps, between)]
    return list({reason.detail: reason for reason in found}.values())


def chlorine_reading(session: Session, tub_id: str, at: datetime) -> float | None:
    """The last test of a tub for chlorine since bleach was last put in, mg/L."""
    found = None
    for washing in tub_washings(session, tub_id, at):
        if washing.substance == "chlorine":
            found = washing.mg_per_l if washing.kind == "reading" else None
    return found


def _steps(session: Session, which: ColumnElement[bool]) -> list[Timed]:
    rows = session.execute(
        select(
            TreatmentStep.kind, TreatmentStep.substance, TreatmentStep.started_at, TreatmentStep.finished_at
        )
        .join(Treatment, Treatment.id == TreatmentStep.treatment_id)
        .where(which, TreatmentStep.started_at.is_not(None))
    ).all()
    baths = [(row.started_at, Washing("bath", row.substance)) for row in rows if row.substance]
    rinses = [
        (row.finished_at, Washing("rinse")) for row in rows if row.kind == Kind.RINSE and row.finished_at
    ]
    return [*baths, *rinses]


def _changes(session: Session, which: ColumnElement[bool]) -> list[Timed]:
    soak = and_(TreatmentStep.treatment_id == WaterChange.treatment_id, TreatmentStep.kind == Kind.SOAK)
    rows = session.execute(
        select(WaterChange.at, WaterChange.fraction, WaterChange.redose, TreatmentStep.substance)
        .join(TreatmentStep, soak, isouter=True)
        .where(which)
    ).all()
    rinses = [(row.at, Washing("rinse")) for row in rows if row.fraction >= FULL_CHANGE]
    return [
        *rinses,
        *((row.at, Washing("bath", row.substance)) for row in rows if row.redose and row.substance),
    ]


def _readings(session: Session, which: ColumnElement[bool]) -> list[Timed]:
    rows = session.execute(
        select(Measurement.at, Measurement.value).where(
            which, Measurement.substance == "chlorine", Measurement.voided_at.is_(None)
        )
    ).all()
    return [(row.at, Washing("reading", "chlorine", row.value)) for row in rows]


def _in(table: Any, spans: Collection[tuple[str, datetime | None, datetime | None]]) -> ColumnElement[bool]:
    """Rows of a tub's table that fall into these spans of (tub, from, to)."""
    found = [
        and_(
            table.tub_id == tub_id,
            *([] if start is None else [table.at >= start]),
            *([] if end is None else [table.at <= end]),
        )
        for tub_id, start, end in spans
    ]
    return or_(*found) if found else table.id.is_(None)


def _ordered(timed: Iterable[Timed], at: datetime) -> list[Washing]:
    past = [one for one in timed if one[0] <= at]
    return [washing for _, washing in sorted(past, key=lambda one: (one[0], ORDER[one[1].kind]))]
