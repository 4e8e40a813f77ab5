"""Due work, derived from facts: running steps, water changes, looks owed, lots to decide on, the stores."""

from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from datetime import datetime
from typing import Any

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from service.agenda.claims import claim_work
from service.agenda.cleared import cleared_work
from service.agenda.recalls import recall_work
from service.agenda.rules import MINUTES, Kind, work_id
from service.agenda.stems import stem_work
from service.agenda.stock import stock_work
from service.agenda.trials import trial_work
from service.agenda.work import Work
from service.core.clock import day_start
from service.core.house import house
from service.lots.models import Lot
from service.lots.rules import State
from service.treatments.ahead import RunningStep, running_steps, steps_to_start, water_changes_due
from service.tubs.models import Tub


def due_work(
    session: Session, now: datetime, *, until: datetime | None = None, kinds: Collection[Kind] = tuple(Kind)
) -> list[dict[str, Any]]:
    """What is due (until a moment), the earliest first."""
    found = [
        work
        for work in (
            *_steps(session),
            *_changes(session, now),
            *_lots(session),
            *cleared_work(session),
            *stock_work(session),
            *recall_work(session),
            *trial_work(session, now),
            *stem_work(session),
            *claim_work(session, now),
        )
        if work.kind in kinds and (until is None or work.due_at <= until)
    ]
    return _shown(session, sorted(found, key=lambda work: (work.due_at, work.kind, work.subject)), now)


def overdue(session: Session, now: datetime) -> dict[str, float]:
    """How much due work of each kind is late."""
    late = Counter(work["kind"] for work in due_work(session, now, until=now) if work["overdue"])
    return {kind: float(many) for kind, many in late.items()}


def _steps(session: Session) -> Iterator[Work]:
    for step in running_steps(session):
        yield _step(Kind.END_STEP, step, f"End: {step.title}")
    for step in steps_to_start(session):
        if step.kind == Kind.RINSE:
            yield _step(Kind.RINSE, step, step.title)


def _step(kind: Kind, step: RunningStep, title: str) -> Work:
    detail = f"Step {step.n}, {step.kind}."
    subject = f"{step.treatment_id}/{step.n}"
    return Work(
        kind, subject, step.due_at, title, detail, step.tub_id, step.lot_ids, step.treatment_id, step.n
    )


def _changes(session: Session, now: datetime) -> Iterator[Work]:
    for change in water_changes_due(session, now):
        share = f"{change.fraction:.0%} of the water"
        detail = (
            f"Change {share} and pour the dose again." if change.redose else f"Change {share}; strain it."
        )
        yield Work(
            Kind.WATER_CHANGE,
            change.tub_id,
            change.due_at,
            "Change the water",
            detail,
            change.tub_id,
            change.lot_ids,
            change.treatment_id,
            fraction=change.fraction,
            redose=change.redose,
        )


def _lots(session: Session) -> Iterator[Work]:
    zone = house(session).time_zone
    rows = session.execute(
        select(Lot.id, Lot.code, Lot.tub_id, Lot.next_look_at, Lot.decidable, Lot.release_day).where(
            Lot.state == State.IN_QUARANTINE.value, or_(Lot.next_look_at.is_not(None), Lot.decidable)
        )
    ).all()
    for row in rows:
        if row.decidable and row.release_day is not None:
            since = day_start(row.release_day, zone)
            detail = "Its time is over and every look was made."
            yield Work(Kind.DECIDE, row.id, since, f"Decide on {row.code}", detail, row.tub_id, (row.id,))
        elif row.next_look_at is not None:
            detail = "A look is owed."
            yield Work(
                Kind.INSPECT, row.id, row.next_look_at, f"Look at {row.code}", detail, row.tub_id, (row.id,)
            )


def _shown(session: Session, found: list[Work], now: datetime) -> list[dict[str, Any]]:
    tubs = _codes(session, Tub, {work.tub_id for work in found if work.tub_id})
    lots = _codes(session, Lot, {lot_id for work in found for lot_id in work.lot_ids})
    return [
        {
            "id": work_id(work.kind, work.subject, work.due_at),
            "kind": work.kind.value,
            "due_at": work.due_at,
            "overdue": work.due_at < now,
            "title": work.title,
            "detail": work.detail,
            "tub": {"id": work.tub_id, "code": tubs[work.tub_id]} if work.tub_id else None,
            "lots": [{"id": lot_id, "code": lots[lot_id]} for lot_id in work.lot_ids],
            "treatment_id": work.treatment_id,
            "step": work.step,
            "fraction": work.fraction,
            "redose": work.redose,
            "minutes": MINUTES[work.kind],
        }
        for work in found
    ]


def _codes(session: Session, table: type[Tub] | type[Lot], ids: Iterable[str]) -> dict[str, str]:
    return {
        row[0]: row[1] for row in session.execute(select(table.id, table.code).where(table.id.in_(set(ids))))
    }
