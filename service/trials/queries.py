"""Reading trials: rows, the layout, the schedule, and what was observed so far."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from service.accounts.models import Token
from service.accounts.people_queries import names_of
from service.catalogue.models import Plant
from service.core.errors import NotFound
from service.journal.models import JournalEntry, JournalSubject
from service.lots.models import Lot
from service.treatments.models import TreatmentLot
from service.treatments.queries import treatment_facts
from service.treatments.rules import TreatmentFact
from service.trials import rules
from service.trials.models import Trial, TrialArm, TrialObservation, TrialTub, TrialUnit
from service.trials.rules_known import Known, Place
from service.tubs.models import Tub

TRIAL = (
    "id",
    "name",
    "question",
    "targets",
    "seed",
    "blind",
    "units_per_arm",
    "power",
    "starts_at",
    "days",
    "recorded_at",
    "by",
    "closed_at",
    "closed_by",
    "conclusion",
    "version",
)
OBSERVATION = (
    "id",
    "trial_id",
    "day",
    "at",
    "recorded_at",
    "by",
    "observer",
    "note",
    "told",
    "inspections",
    "could_know",
    "voided_at",
    "voided_by",
    "void_reason",
)


@dataclass(frozen=True)
class Layout:
    """The parts of a trial; `arm_of` and `tub_of` say what a row belongs to."""

    arms: Sequence[TrialArm]
    tubs: Sequence[TrialTub]
    units: Sequence[TrialUnit]

    def arm_of(self, tub: TrialTub) -> TrialArm:
        """The arm that a tub serves."""
        return next(arm for arm in self.arms if arm.id == tub.arm_id)

    def tub_of(self, unit: TrialUnit) -> TrialTub:
        """The tub that a unit is in."""
        return next(tub for tub in self.tubs if tub.id == unit.trial_tub_id)

    @property
    def control(self) -> TrialArm | None:
        """The untreated arm, if there is one."""
        return next((arm for arm in self.arms if arm.protocol_version_id is None), None)

    @property
    def lot_ids(self) -> list[str]:
        """The lots of the trial, by id."""
        return sorted({unit.lot_id for unit in self.units})


@cache
def trials() -> Select[Any]:
    """Every trial."""
    return select(*(getattr(Trial, name) for name in TRIAL))


def trial_shape(row: Sequence[Any]) -> dict[str, Any]:
    """A trial as listed; the seed of a blind one stays hidden while it is open, for it gives the arms."""
    shown = dict(zip(TRIAL, row, strict=True))
    hidden = shown["blind"] and shown["closed_at"] is None
    return {**shown, "seed": None if hidden else shown["seed"]}


def trial_by_id(session: Session, trial_id: str, *, lock: bool = False) -> Trial:
    """One trial; raises NotFound."""
    found = session.get(Trial, trial_id, with_for_update=lock or None, populate_existing=lock)
    if found is None:
        raise NotFound("trial")
    return found


def layout_of(session: Session, trial_id: str) -> Layout:
    """The arms, tubs and units of a trial, in their order."""
    arms = session.scalars(select(TrialArm).where(TrialArm.trial_id == trial_id).order_by(TrialArm.place))
    tubs = session.scalars(select(TrialTub).where(TrialTub.trial_id == trial_id).order_by(TrialTub.label))
    units = session.scalars(select(TrialUnit).where(TrialUnit.trial_id == trial_id).order_by(TrialUnit.label))
    return Layout(arms.all(), tubs.all(), units.all())


def observations_of(session: Session, trial_id: str) -> list[TrialObservation]:
    """The valid observations of a trial in the order of their days."""
    found = select(TrialObservation).where(
        TrialObservation.trial_id == trial_id, TrialObservation.voided_at.is_(None)
    )
    order = (TrialObservation.day, TrialObservation.at, TrialObservation.id)
    return list(session.scalars(found.order_by(*order)))


def observation_by_id(session: Session, trial_id: str, observation_id: str) -> TrialObservation:
    """One observation of a trial, locked; raises NotFound."""
    found = session.get(TrialObservation, observation_id, with_for_update=True, populate_existing=True)
    if found is None or found.trial_id != trial_id:
        raise NotFound("observation")
    return found


def observations(trial_id: str) -> Select[Any]:
    """The observations of a trial, voided ones too."""
    found = select(*(getattr(TrialObservation, name) for name in OBSERVATION))
    return found.where(TrialObservation.trial_id == trial_id)


def observation_shape(row: Sequence[Any], kept: Mapping[str, Sequence[Any]]) -> dict[str, Any]:
    """An observation as answered, with those of its photos that are kept here."""
    shown = dict(zip(OBSERVATION, row, strict=True))
    return {**shown.pop("told"), **shown, "kept_photos": kept.get(shown["id"], ())}


def known_of(found: Sequence[TrialObservation]) -> Known:
    """What valid observations told, for the rules."""
    known = Known()
    for observation in found:
        known.add(observation.day, observation.told)
    return known


def places_of(session: Session, layout: Layout) -> dict[str, Place]:
    """What each label stands for."""
    facts = treatments_of(session, layout)
    places = {}
    for tub in layout.tubs:
        control = layout.arm_of(tub).protocol_version_id is None
        started = [fact.started_at for fact in facts[tub.id] if fact.started_at is not None]
        place = Place(control, min(started, default=None), is_unit=False)
        places[tub.label] = place
        for unit in layout.units:
            if unit.trial_tub_id == tub.id:
                places[unit.label] = Place(control, place.treated_at, is_unit=True)
    return places


def treatments_of(session: Session, layout: Layout) -> dict[str, list[TreatmentFact]]:
    """The treatments that each tub's lots got since they were split off for the trial, by tub row."""
    lots = {row.id: row.split_at for row in _lots(session, layout.lot_ids)}
    facts = treatment_facts(session, layout.lot_ids)
    found: dict[str, list[TreatmentFact]] = {tub.id: [] for tub in layout.tubs}
    known: set[tuple[str, str]] = set()
    for unit in layout.units:
        split_at = lots[unit.lot_id]
        for fact in facts[unit.lot_id]:
            key = (unit.trial_tub_id, fact.treatment_id)
            if key not in known and (fact.started_at is None or fact.started_at >= split_at):
                known.add(key)
                found[unit.trial_tub_id].append(fact)
    return found


def hands(session: Session, layout: Layout, until: datetime) -> set[str]:
    """The names of those who had a hand in treatments of a trial's lots up to a moment."""
    treated = session.scalars(
        select(TreatmentLot.treatment_id).where(TreatmentLot.lot_id.in_(layout.lot_ids)).distinct()
    ).all()
    about = JournalSubject.subject_kind == "treatment", JournalSubject.subject_id.in_(treated)
    wanted = select(JournalEntry.by).join(JournalSubject, JournalSubject.seq == JournalEntry.seq)
    ids = session.scalars(wanted.where(*about, JournalEntry.at <= until).distinct()).all()
    tokens = session.execute(select(Token.id, Token.name))
    names = {**names_of(session), **{row.id: row.name for row in tokens}}
    return {names.get(id_, id_) for id_ in ids}


def schedule_of(trial: Trial, found: Sequence[TrialObservation], now: datetime) -> list[rules.Scheduled]:
    """The looks of a trial and how each stands."""
    first: dict[int, datetime] = {}
    for observation in found:
        first[observation.day] = min(observation.at, first.get(observation.day, observation.at))
    days = rules.schedule_days(trial.days)
    closed = trial.closed_at is not None
    return rules.schedule(days, trial.starts_at, first, now, closed=closed)


def open_trials_of(session: Session, lot_ids: Collection[str]) -> dict[str, tuple[Trial, TrialArm, str]]:
    """For each of these lots that is in an open trial: the trial, its arm, and its row of the tub."""
    rows = session.execute(
        select(TrialUnit.lot_id, Trial, TrialArm, TrialTub.id)
        .join(Trial, Trial.id == TrialUnit.trial_id)
        .join(TrialTub, TrialTub.id == TrialUnit.trial_tub_id)
        .join(TrialArm, TrialArm.id == TrialTub.arm_id)
        .where(TrialUnit.lot_id.in_(lot_ids), Trial.closed_at.is_(None))
    ).all()
    return {row[0]: (row[1], row[2], row[3]) for row in rows}


def named_units(session: Session, layout: Layout) -> dict[str, Mapping[str, Any]]:
    """Of each lot of a trial: its code and its plant."""
    return {
        row.id: {"code": row.code, "plant_id": row.plant_id, "plant": row.scientific_name}
        for row in _lots(session, layout.lot_ids)
    }


def tub_codes(session: Session, layout: Layout) -> dict[str, str]:
    """The codes of the tubs of a trial, by id."""
    wanted = [tub.tub_id for tub in layout.tubs]
    rows = session.execute(select(Tub.id, Tub.code).where(Tub.id.in_(wanted)))
    return {row.id: row.code for row in rows}


def _lots(session: Session, lot_ids: Collection[str]) -> Sequence[Any]:
    return session.execute(
        select(Lot.id, Lot.code, Lot.split_at, Lot.plant_id, Plant.scientific_name)
        .join(Plant, Plant.id == Lot.plant_id)
        .where(Lot.id.in_(lot_ids))
    ).all()
