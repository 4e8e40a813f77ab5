"""Reading baths: how they stand, and which lots were in them."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from service.core.errors import NotFound
from service.protocols.frozen import thaw
from service.protocols.measures import litres
from service.treatments import rules_baths
from service.treatments.facts import written
from service.treatments.models import Bath, BathReading, Treatment, TreatmentLot, TreatmentStep
from service.treatments.rules_baths import BathFacts

PLAIN = ("id", "mixed_at", "discard_at", "discarded_at", "discard_reason", "plant_load_limit", "by")


def baths(*, open_only: bool = False) -> Select[Any]:
    """Baths, all or those that were not thrown away."""
    found = select(Bath)
    return found.where(Bath.discarded_at.is_(None)) if open_only else found


def find(session: Session, bath_id: str, *, lock: bool = False) -> Bath | None:
    """One bath, if there is such."""
    return session.get(Bath, bath_id, with_for_update=lock or None, populate_existing=lock)


def bath_by_id(session: Session, bath_id: str, *, lock: bool = False) -> Bath:
    """One bath; raises NotFound."""
    found = find(session, bath_id, lock=lock)
    if found is None:
        raise NotFound("bath")
    return found


def facts_of(session: Session, bath: Bath, content: Mapping[str, Any]) -> BathFacts:
    """A bath as it stands; `content` is the protocol it was mixed for."""
    rows = session.execute(
        select(BathReading.at, BathReading.mg_per_l)
        .where(BathReading.bath_id == bath.id)
        .order_by(BathReading.at, BathReading.id)
    ).all()
    dips = session.scalars(select(TreatmentStep.poured).where(TreatmentStep.bath_id == bath.id))
    return BathFacts(
        mixed_at=bath.mixed_at,
        discard_at=bath.discard_at,
        discarded_at=bath.discarded_at,
        target_mg_per_l=bath.target_mg_per_l,
        mixed_mg_per_l=bath.mixed_mg_per_l,
        least_share=content["bath"]["discard_below_share"],
        plant_load_limit=bath.plant_load_limit,
        readings=[(row.at, row.mg_per_l) for row in rows],
        plants=sum(dip["plants"] for dip in dips),
    )


def dipped_before(session: Session, bath_id: str, own_tub_id: str) -> list[tuple[str, datetime]]:
    """The other tubs whose lots were in the bath, and when each was last put in."""
    latest = func.max(TreatmentStep.started_at, type_=TreatmentStep.started_at.type)
    rows = session.execute(
        select(Treatment.tub_id, latest)
        .join(TreatmentStep, TreatmentStep.treatment_id == Treatment.id)
        .where(TreatmentStep.bath_id == bath_id, Treatment.tub_id != own_tub_id)
        .group_by(Treatment.tub_id)
        .order_by(Treatment.tub_id)
    ).all()
    return [(row[0], row[1]) for row in rows if row[1] is not None]


def bath_view(session: Session, bath: Bath, now: datetime) -> dict[str, Any]:
    """A bath as answered, with whether it may be used at `now`."""
    told = written(session, {bath.protocol_version_id})[bath.protocol_version_id]
    facts = facts_of(session, bath, told.content)
    why_not = [reason.detail for reason in rules_baths.bath_reasons(facts, now)]
    return {
        **{name: getattr(bath, name) for name in PLAIN},
        "protocol": told.code,
        "version": told.number,
        "step": bath.step_n,
        "volume": litres(bath.volume_l),
        "target_mg_per_l": bath.target_mg_per_l,
        "mixed_mg_per_l": bath.mixed_mg_per_l,
        "holds_mg_per_l": facts.holds_mg_per_l(now),
        "readings": [{"at": at, "mg_per_l": value} for at, value in facts.readings],
        "plants": facts.plants,
        "lot_ids": _lot_ids(session, bath.id),
        "usable": not why_not,
        "why_not": why_not,
        "sheet": thaw(bath.sheet),
        "poured": thaw(bath.poured or []),
    }


def _lot_ids(session: Session, bath_id: str) -> list[str]:
    rows = session.scalars(
        select(TreatmentLot.lot_id)
        .join(TreatmentStep, TreatmentStep.treatment_id == TreatmentLot.treatment_id)
        .where(TreatmentStep.bath_id == bath_id)
        .order_by(TreatmentStep.started_at, TreatmentLot.lot_id)
    )
    return list(rows)
