"""Reading trial stems: of a lot and what it was split from, and those that wait for a look."""

from collections import defaultdict
from collections.abc import Collection, Sequence
from typing import Any

from sqlalchemy import and_, or_, select
from sqlalchemy.orm import Session

from service.core.errors import NotFound
from service.lots.models import Lot
from service.lots.queries import lineage
from service.protocols.models import Protocol, ProtocolVersion
from service.treatments.rules_stems import Judged, Tried, days_owed, due_at, lost_at_most
from service.treatments.stem_models import StemJudgement, StemTrial

Row = tuple[StemTrial, ProtocolVersion, Protocol]


def stem_trial_by_id(session: Session, trial_id: str) -> StemTrial:
    """Some trial stems; raises NotFound."""
    found = session.get(StemTrial, trial_id)
    if found is None:
        raise NotFound("trial-stems")
    return found


def tried_on(session: Session, lot: Lot, method: str) -> Tried | None:
    """The newest trial stems of a lot, or of what it was split from before that, for a method."""
    rows = [row for row in _of_lot(session, lot) if row[2].method == method]
    if not rows:
        return None
    newest = rows[-1][0]
    return _tried(newest, _judgements(session, [newest.id])[newest.id])


def stem_views(session: Session, lot: Lot) -> list[dict[str, Any]]:
    """The trial stems of a lot as answered."""
    return _views(session, _of_lot(session, lot))


def stem_view(session: Session, trial: StemTrial) -> dict[str, Any]:
    """Some trial stems as answered."""
    return _views(session, _rows(session, StemTrial.id == trial.id))[0]


def tried(session: Session, trial: StemTrial) -> Tried:
    """Some trial stems as the rules take them."""
    return _tried(trial, _judgements(session, [trial.id])[trial.id])


def waiting(session: Session) -> list[tuple[StemTrial, Lot, Tried]]:
    """The trial stems that are to be judged, of lots that still wait for what they show."""
    rows = session.execute(
        select(StemTrial, Lot)
        .join(Lot, Lot.id == StemTrial.lot_id)
        .where(Lot.state.in_(("received", "in_quarantine")))
        .order_by(StemTrial.tried_at, StemTrial.id)
    ).all()
    judged = _judgements(session, [trial.id for trial, _ in rows])
    found = [(trial, lot, _tried(trial, judged[trial.id])) for trial, lot in rows]
    return [one for one in found if due_at(one[2]) is not None]


def _of_lot(session: Session, lot: Lot) -> Sequence[Row]:
    of_forebears = [
        and_(StemTrial.lot_id == forebear, StemTrial.tried_at <= until)
        for forebear, until in lineage(session, lot.id)
    ]
    return _rows(session, or_(StemTrial.lot_id == lot.id, *of_forebears))


def _rows(session: Session, which: Any) -> Sequence[Row]:
    found = session.execute(
        select(StemTrial, ProtocolVersion, Protocol)
        .join(ProtocolVersion, ProtocolVersion.id == StemTrial.protocol_version_id)
        .join(Protocol, Protocol.id == ProtocolVersion.protocol_id)
        .where(which)
        .order_by(StemTrial.tried_at, StemTrial.id)
    ).all()
    return [(row[0], row[1], row[2]) for row in found]


def _judgements(session: Session, trial_ids: Collection[str]) -> dict[str, list[StemJudgement]]:
    found: dict[str, list[StemJudgement]] = defaultdict(list)
    statement = select(StemJudgement).where(StemJudgement.stem_trial_id.in_(trial_ids))
    for one in session.scalars(statement.order_by(StemJudgement.at, StemJudgement.id)):
        found[one.stem_trial_id].append(one)
    return found


def _tried(trial: StemTrial, judgements: Sequence[StemJudgement]) -> Tried:
    return Tried(trial.stems, trial.tried_at, [Judged(one.at, one.alive) for one in judgements])


def _views(session: Session, rows: Sequence[Row]) -> list[dict[str, Any]]:
    judged = _judgements(session, [trial.id for trial, _, _ in rows])
    return [_view(row, judged[row[0].id]) for row in rows]


def _view(row: Row, judgements: Sequence[StemJudgement]) -> dict[str, Any]:
    trial, version, protocol = row
    known = _tried(trial, judgements)
    return {
        **{name: getattr(trial, name) for name in ("id", "lot_id", "stems", "tried_at", "note", "by")},
        "protocol": protocol.code,
        "version": version.number,
        "method": protocol.method,
        "dead": known.dead,
        "days_owed": days_owed(known),
        "next_at": due_at(known),
        "lost_at_most": lost_at_most(known.dead, known.stems),
        "judgements": [
            {name: getattr(one, name) for name in ("at", "alive", "note", "by")} for one in judgements
        ],
    }
