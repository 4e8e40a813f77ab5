"""Keeping clocks and release days up with the facts: at once for clocks, by owed jobs for days."""

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from hashlib import sha256
from typing import Any

from sqlalchemy import or_, select, update
from sqlalchemy.orm import Session

from service.core.jobs import owe_each
from service.journal.actions import Note
from service.lots.models import Lot
from service.lots.rules import ENDED, State
from service.quarantine.evidence import clocks
from service.quarantine.queries import (
    LIVING,
    columns,
    figures,
    lots_ever_in,
    policy,
    projection,
    within_reach,
)
from service.tubs.models import Tub

JOB, SEVERAL = "project_tub", "project_tubs"
AT_ONCE = 10  # tubs
ALONE = "lot:"
NEW = "lot.received"
ONLY_THE_DAY = frozenset({"tub.temperatures_recorded", "tub.temperature_voided"})
REACHING = frozenset({"inspection.found_live", "inspection.voided"})


def follow(session: Session, note: Note) -> None:
    """Reaction: set the clocks of the lots that a fact concerns anew and owe their release days.

    Of lots that the act itself did not lock only those that nobody else holds are touched: lots are locked
    before tubs and all at once everywhere else, so waiting here would be a deadlock. The owed job comes to
    the others.
    """
    about = [thing for thing in note.about if isinstance(thing, Lot)]
    lots = [lot for lot in about if State(lot.state) not in ENDED]  # the entry's version holds them locked
    others = _others(session, note, about)
    keys = {_key(lot.id, lot.tub_id) for lot in lots} | {_key(id_, tub) for id_, tub in others.items()}
    owe_each(session, JOB, {key: {"key": key} for key in sorted(keys)}, note.act.now)
    if others:
        wanted = select(Lot).where(Lot.id.in_(others)).order_by(Lot.id).with_for_update(skip_locked=True)
        lots += session.scalars(wanted)
    if not lots:
        return
    if note.kind not in ONLY_THE_DAY:
        _wind(session, lots, {lot.id for lot in about})
    if note.kind == NEW:
        return  # its day is stale from the beginning
    session.execute(
        update(Lot)
        .where(Lot.id.in_([lot.id for lot in lots]))
        .values(release_day_stale=True)
        .execution_options(synchronize_session="evaluate")
    )


def on_state_changed(session: Session, note: Note) -> None:
    """Reaction: a lot that came back into quarantine owes its projection, which says what it waits for."""
    if note.after["state"] == "in_quarantine":
        follow(session, note)


def project_tub(session: Session, payload: Mapping[str, Any], now: datetime) -> None:
    """Job: store the projection of the lots of one tub, or of one lot that stands in none."""
    project_tubs(session, {"keys": [payload["key"]]}, now)


def project_tubs(session: Session, payload: Mapping[str, Any], now: datetime) -> None:
    """Job: as `project_tub` for a few tubs at once, whose facts are asked for together."""
    lots = lots_at(session, payload["keys"])
    for known in projection(session, lots, now).values():
        lot = known.lot
        lot.release_day_computed_at, lot.release_day_stale = now, False
        started, lot.release_day, lot.next_look_at, lot.decidable = columns(session, known, now)
        if lot.clock_started_at != started:
            lot.clock_started_at = started
            lot.version += 1


def lots_at(session: Session, keys: Collection[str]) -> Sequence[Lot]:
    """The living lots of these keys of `every_key`, locked."""
    alone = [key.removeprefix(ALONE) for key in keys if key.startswith(ALONE)]
    wanted = or_(Lot.id.in_(alone), Lot.tub_id.in_([key for key in keys if not key.startswith(ALONE)]))
    locked = select(Lot).where(wanted, LIVING).order_by(Lot.id).with_for_update()
    return session.scalars(locked.execution_options(populate_existing=True)).all()


def project_all(session: Session, _payload: Mapping[str, Any], now: datetime) -> None:
    """Job of the night: owe the projection of every tub with lots in it, and of lots in none.

    A few at a time, because facts are asked for together; not more, because others who write wait meanwhile.
    """
    keys = every_key(session)
    chunks = [keys[n : n + AT_ONCE] for n in range(0, len(keys), AT_ONCE)]
    owe_each(session, SEVERAL, {_named(chunk): {"keys": chunk} for chunk in chunks}, now)


def on_figures_changed(session: Session, note: Note) -> None:
    """Reaction: other figures of a pest owe every living lot its release day anew."""
    project_all(session, {}, note.act.now)


def every_key(session: Session) -> list[str]:
    """What `project_tub` must be called with, one after the other, to project every living lot anew."""
    return sorted({_key(id_, tub) for id_, tub in session.execute(select(Lot.id, Lot.tub_id).where(LIVING))})


def _others(session: Session, note: Note, about: Sequence[Lot]) -> dict[str, str | None]:
    """The living lots that a fact concerns beside those it is about, each with its tub."""
    ids: set[str] = set()
    if not about:
        ids |= set(lots_ever_in(session, [thing.id for thing in note.about if isinstance(thing, Tub)]))
    if note.kind in REACHING:
        ids |= within_reach(session, about)
    ids -= {lot.id for lot in about}
    if not ids:
        return {}
    rows = session.execute(select(Lot.id, Lot.tub_id).where(Lot.id.in_(ids), LIVING))
    return {id_: tub_id for id_, tub_id in rows}


def _wind(session: Session, lots: Sequence[Lot], told: Collection[str]) -> None:
    for lot_id, clock in clocks(session, lots, figures(policy(session))).items():
        lot = session.get_one(Lot, lot_id)
        if lot.clock_started_at == clock.started_at:
            continue
        lot.clock_started_at = clock.started_at
        if lot_id not in told:
            lot.version += 1  # what is answered about it has changed, though no entry is about it
    session.flush()


def _named(keys: Sequence[str]) -> str:
    # The same tubs owe one job, others another.
    return sha256(" ".join(keys).encode()).hexdigest()


def _key(lot_id: str, tub_id: str | None) -> str:
    return tub_id or f"{ALONE}{lot_id}"
