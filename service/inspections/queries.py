"""Reading looks: those that count for a lot, and the lots that a look is about."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Row, Select, and_, exists, false, or_, select
from sqlalchemy.orm import Session

from service.catalogue.queries import pest_figures
from service.core.among import among
from service.core.errors import NotFound
from service.inspections.models import Finding, InspectedWater, Inspection
from service.inspections.placing import at_lot, at_water, places
from service.inspections.rules import BY_UNIT, Find, Look, LookMethod, is_whole_tub
from service.inspections.shapes import INSPECTION
from service.journal.models import JournalEntry, JournalSubject
from service.journal.queries import entries_about
from service.lots.models import Lot, Stay
from service.lots.queries import lineages, stays_of

__all__ = ["Find", "Look", "looks_of"]

CHANGES_UNITS = (
    "lot.lost",
    "lot.split",
    "lot.repacked",
    "lot.rejected",
    "dispatch.made",
    "dispatch.reversed",
)


@dataclass(frozen=True)
class Pests:
    """The pests known, those that start quarantine anew, and those the law wants to hear of."""

    known: Collection[str]
    resetting: Collection[str]
    notifiable: Collection[str]


def inspection_by_id(session: Session, inspection_id: str, *, lock: bool = False) -> Inspection:
    """One look; raises NotFound."""
    found = session.get(Inspection, inspection_id, with_for_update=lock or None, populate_existing=lock)
    if found is None:
        raise NotFound("inspection")
    return found


def pests(session: Session) -> Pests:
    """The pests of the reference data as a look judges them."""
    figures = pest_figures(session)
    resetting = {code for code, pest in figures.items() if pest["resets_clock"]}
    notifiable = {code for code, pest in figures.items() if pest["regulated"] == "notifiable"}
    return Pests(figures, resetting, notifiable)


def looks_of(
    session: Session, lot_ids: Collection[str], known: Mapping[str, Sequence[Stay]] | None = None
) -> dict[str, list[Look]]:
    """The valid looks that count for each lot, in order: at itself, and at water while it was in it.

    A lot split off takes over what its forebears' looks showed up to the split. A clean look at a tub
    counts for that tub; a find in it for every lot whose water was one with it then. At most six statements;
    the stays of lots that are `known` are not asked for.
    """
    forebears = lineages(session, lot_ids)
    stays = {**(known or {}), **stays_of(session, set(lot_ids) - set(known or ()))}
    own = {*lot_ids, *(forebear for chain in forebears.values() for forebear, _ in chain)}
    tubs = {stay.tub_id for found in stays.values() for stay in found}
    rows = _valid(session, or_(among(Inspection.lot_id, own), _water_in(tubs)))
    findings = findings_of(session, [row.id for row in rows])
    waters = _waters(session, [row.id for row in rows])
    near_by = places(rows, waters)
    found = {}
    for lot_id in lot_ids:
        here = {lot_id, *(forebear for forebear, _ in forebears[lot_id])}
        here |= {stay.tub_id for stay in stays[lot_id]}
        near = (rows[n] for n in sorted({n for place in here for n in near_by[place]}))
        found[lot_id] = [
            _look(row, findings[row.id])
            for row in near
            if at_lot(row, lot_id, forebears[lot_id]) or at_water(row, waters[row.id], stays[lot_id])
        ]
    return found


def findings_of(session: Session, inspection_ids: Collection[str]) -> dict[str, list[Find]]:
    """What each look found, in the order it was written."""
    found: dict[str, list[Find]] = defaultdict(list)
    if not inspection_ids:
        return found
    rows = session.execute(
        select(
            Finding.inspection_id, Finding.pest, Finding.stage, Finding.live, Finding.dead, Finding.removed
        )
        .where(among(Finding.inspection_id, inspection_ids))
        .order_by(Finding.id)
    ).all()
    for row in rows:
        found[row.inspection_id].append(Find(row.pest, row.stage, row.live, row.dead, row.removed))
    return found


def tub_of(session: Session, lot_id: str, at: datetime) -> str | None:
    """The tub a lot was in at a moment, None when it was in none."""
    return session.scalar(
        select(Stay.tub_id)
        .where(
            Stay.lot_id == lot_id,
            Stay.entered_at <= at,
            or_(Stay.left_at.is_(None), Stay.left_at > at),
        )
        .order_by(Stay.entered_at.desc(), Stay.id.desc())
        .limit(1)
    )


def lots_in(session: Session, tub_ids: Collection[str], at: datetime) -> list[str]:
    """The ids of the lots that were in these tubs at a moment, or left them at it."""
    return list(
        session.scalars(
            select(Stay.lot_id)
            .where(
                Stay.tub_id.in_(tub_ids),
                Stay.entered_at <= at,
                or_(Stay.left_at.is_(None), Stay.left_at >= at),
            )
            .distinct()
            .order_by(Stay.lot_id)
        )
    )


def lots_about(session: Session, inspection_ids: Collection[str]) -> set[str]:
    """The ids of the lots that looks were entered about, by the journal."""
    entries = select(JournalSubject.seq).where(
        JournalSubject.subject_kind == Inspection.__tablename__, JournalSubject.subject_id.in_(inspection_ids)
    )
    return set(
        session.scalars(
            select(JournalSubject.subject_id).where(
                JournalSubject.seq.in_(entries), JournalSubject.subject_kind == Lot.__tablename__
            )
        )
    )


def looks_that_found(session: Session, pests: Collection[str]) -> list[str]:
    """The ids of the valid looks that found one of these pests alive."""
    return list(
        session.scalars(
            select(Inspection.id)
            .join(Finding, Finding.inspection_id == Inspection.id)
            .where(Inspection.voided_at.is_(None), Finding.pest.in_(pests), Finding.live > 0)
            .distinct()
        )
    )


def units_then(session: Session, lot: Lot, at: datetime) -> int:
    """The units a lot had at a moment, by what is sold; the most it ever had when some left or came after."""
    changed = (
        entries_about(Lot.__tablename__, lot.id)
        .where(JournalEntry.at > at, JournalEntry.kind.in_(CHANGES_UNITS))
        .limit(1)
    )
    return lot.left if session.execute(changed).first() is None else lot.received + lot.gained


def inspections(*, lot: str | None, tub: str | None) -> Select[Any]:
    """Looks, voided ones too: of one lot (`of_lot`), at one tub, or all."""
    found = select(*(getattr(Inspection, name) for name in INSPECTION))
    if lot is not None:
        found = found.where(or_(Inspection.lot_id == lot, _in_water_of(lot)))
    return found if tub is None else found.where(Inspection.tub_id == tub)


def _water_in(tub_ids: Collection[str]) -> ColumnElement[bool]:
    if not tub_ids:
        return false()
    return exists().where(
        InspectedWater.inspection_id == Inspection.id, among(InspectedWater.tub_id, tub_ids)
    )


def _in_water_of(lot_id: str) -> ColumnElement[bool]:
    """Looks at the whole of the water that a lot was in; finds reach all of it, clean looks the tub."""
    return exists().where(
        InspectedWater.inspection_id == Inspection.id,
        or_(InspectedWater.whole, and_(Inspection.clean.is_(False), _whole())),
        Stay.tub_id == InspectedWater.tub_id,
        Stay.lot_id == lot_id,
        Stay.entered_at <= Inspection.at,
        or_(
            Stay.left_at.is_(None),
            Stay.left_at > Inspection.at,
            and_(Inspection.clean.is_(False), Stay.left_at == Inspection.at),
        ),
    )


def _whole() -> ColumnElement[bool]:
    return or_(Inspection.tub_id.is_not(None), Inspection.method.not_in([way.value for way in BY_UNIT]))


def _valid(session: Session, which: ColumnElement[bool]) -> Sequence[Row[Any]]:
    return session.execute(
        select(*(getattr(Inspection, name) for name in INSPECTION))
        .where(which, Inspection.voided_at.is_(None))
        .order_by(Inspection.at, Inspection.id)
    ).all()


def _waters(session: Session, inspection_ids: Collection[str]) -> dict[str, dict[str, bool]]:
    found: dict[str, dict[str, bool]] = defaultdict(dict)
    if not inspection_ids:
        return found
    rows = session.execute(
        select(InspectedWater.inspection_id, InspectedWater.tub_id, InspectedWater.whole).where(
            among(InspectedWater.inspection_id, inspection_ids)
        )
    ).all()
    for inspection_id, tub_id, whole in rows:
        found[inspection_id][tub_id] = whole
    return found


def _look(row: Row[Any], findings: Iterable[Find]) -> Look:
    whole_tub = is_whole_tub(LookMethod(row.method), of_tub=row.tub_id is not None)
    facts = (row.id, row.at, row.method, row.sample_size, row.lot_size, row.full, row.clean)
    strata = tuple((part["name"], part["looked_at"]) for part in row.strata)
    return Look(*facts, findings=tuple(findings), whole_tub=whole_tub, strata=strata)
