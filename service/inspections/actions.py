"""Making looks: what they found is told to the rooms above by the journal."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlalchemy.orm.exc import StaleDataError

from service.catalogue.models import Plant, Supplier
from service.core.errors import Invalid, NotFound
from service.core.reasons import Reason
from service.inspections import queries, rules
from service.inspections.models import Finding, InspectedWater, Inspection
from service.inspections.rules import Find, LookMethod, Sample, Units
from service.inspections.rules_sealed import Cups, sealed_reasons
from service.inspections.rules_strata import in_all, looked_at_reasons
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.lots.actions import lock_water_group
from service.lots.models import Lot
from service.lots.queries import lot_by_id, stays_of
from service.lots.rules_strata import kinds
from service.lots.sealing import seal, unseal
from service.lots.sharing import met_since, reach_since_clock
from service.photos.actions import add_photos
from service.tubs.models import Tub
from service.tubs.queries import tub_by_id
from service.tubs.waters import tubs_of_one_water

TOLD = ("lot_id", "tub_id", "method", "sample_size", "full", "clean")


@dataclass(frozen=True)
class _Place:
    """What is looked at: a lot or none, the tub it was in if any, the tubs of one water with it then.

    `whole`: the look is at the water as a whole.
    """

    method: LookMethod
    lot_id: str | None
    tub_id: str | None
    water: Sequence[str]
    whole: bool


@dataclass(frozen=True)
class _Found:
    """What a look found; `live`: of a kind that concerns the whole water."""

    findings: Sequence[Find]
    clean: bool
    regulated: bool

    @property
    def live(self) -> bool:
        return self.regulated or not self.clean


def record_look(session: Session, act: Act, facts: Mapping[str, Any]) -> Inspection:
    """Enter a look at a lot or a tub, with what it found; `facts` as `schemas.InspectionIn` loads them.

    Strain and bait at a lot count for the tub it was in. A live find of a pest that starts quarantine
    anew is told about every lot of that water then and since; a notifiable one locks them.
    """
    place, found = _place(session, act, facts), _found(session, facts)
    locked = _locked(session, act, place, found)
    lots = {lot.id: lot for lot in locked}
    looked_at = [lots[lot_id] for lot_id in _looked_at(session, act, place)]
    if place.lot_id is not None:
        not_before(act.at, lots[place.lot_id].received_at, "the lot's receipt")
    sampled = looked_at if place.lot_id is None else [lots[place.lot_id]]
    asked = in_all(facts["strata"], facts["sample_size"])
    _refuse_strata(facts, place, lots.get(place.lot_id or ""))
    sample = _sample({**facts, "sample_size": asked}, place, _units(session, act, sampled))
    if place.method is LookMethod.SEALED_CUP:
        _seal(session, act, sampled[0], sample, found)
    inspection = _add(session, act, facts, sample, found)
    _add_water(session, inspection, place)
    photos = add_photos(session, act, inspection.id, facts.get("photos", ()))
    if found.regulated:
        _lock(locked)
    _unseal(act, locked, found)
    tubs = [session.get_one(Tub, place.tub_id)] if place.tub_id and (place.whole or found.live) else []
    about = [inspection, *(locked if found.live else looked_at), *tubs]
    kind = "inspection.found_live" if found.live else "inspection.recorded"
    told = _told(inspection, found) | ({"photos": photos} if photos else {})
    record(session, act, kind, about, after=told)
    return inspection


def _place(session: Session, act: Act, facts: Mapping[str, Any]) -> _Place:
    method, lot_id, tub_id = LookMethod(facts["method"]), facts["lot_id"], facts["tub_id"]
    whole = rules.is_whole_tub(method, of_tub=tub_id is not None)
    _must_exist(session, lot_id, tub_id)
    if lot_id is not None:
        tub_id = queries.tub_of(session, lot_id, act.at)
    if tub_id is None and whole:
        detail = "This lot was in no tub then: there was no water to strain or to lay a bait in."
        raise Invalid.at("#/method", detail, code="no-water")
    water = tubs_of_one_water(session, tub_id, act.at) if tub_id else ()
    return _Place(method, lot_id, tub_id, water, whole)


def _must_exist(session: Session, lot_id: str | None, tub_id: str | None) -> None:
    try:
        if lot_id is not None:
            lot_by_id(session, lot_id)
        if tub_id is not None:
            tub_by_id(session, tub_id)
    except NotFound as missing:
        pointer = "#/tub_id" if lot_id is None else "#/lot_id"
        raise Invalid.at(pointer, missing.detail, code="unknown-place") from missing


def _locked(session: Session, act: Act, place: _Place, found: _Found) -> list[Lot]:
    """Lock the lot and all that were in its water then, or came into it since; gives these.

    Lots that a live find reaches beyond that water are locked with them: whoever judges them afterwards
    must not wait for one lot while holding others.
    """
    own = {*queries.lots_in(session, place.water, act.at), *([place.lot_id] if place.lot_id else ())}
    tubs = [place.tub_id] if place.tub_id else []
    if not found.live:
        return lock_water_group(session, own, tubs, since=act.at)
    near = met_since(session, own, place.tub_id, act.at)
    beyond = {lot.id for lot in reach_since_clock(session, near, act.now)}
    locked = lock_water_group(session, near | beyond, tubs, since=act.at)
    group = met_since(session, own, place.tub_id, act.at)
    if not group <= {lot.id for lot in locked}:
        raise StaleDataError("Another lot came into this water at the same moment.")
    return [lot for lot in locked if lot.id in group]


def _looked_at(session: Session, act: Act, place: _Place) -> list[str]:
    if place.lot_id is not None and not place.whole:
        return [place.lot_id]
    return queries.lots_in(session, [place.tub_id] if place.tub_id else [], act.at)


def _sample(facts: Mapping[str, Any], place: _Place, units: Units) -> Sample:
    asked, unit, of_tub = facts["sample_size"], facts["sample_unit"], place.lot_id is None
    _refuse(rules.sample_reasons(place.method, asked, unit, units, of_tub=of_tub))
    return rules.sample_of(place.method, asked, unit, units, of_tub=of_tub)


def _refuse_strata(facts: Mapping[str, Any], place: _Place, lot: Lot | None) -> None:
    strata = [] if lot is None else lot.strata
    each = 1 if lot is None else rules.units_of(1, lot.unit_of_sale, lot.stems_per_bunch, untied=lot.untied)
    _refuse(looked_at_reasons(facts["strata"], strata, facts["sample_size"], place.method, each))


def _found(session: Session, facts: Mapping[str, Any]) -> _Found:
    pests = queries.pests(session)
    findings = [Find(**finding) for finding in facts["findings"]]
    _refuse(rules.finding_reasons(findings, pests.known))
    clean = rules.is_clean(findings, pests.resetting)
    return _Found(findings, clean, rules.found_alive(findings, pests.notifiable))


def _refuse(reasons: Sequence[Reason]) -> None:
    if reasons:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)


def _units(session: Session, act: Act, lots: Sequence[Lot]) -> Units:
    plants = {plant for lot in lots for plant in kinds(lot.plant_id, lot.strata)}
    rows = session.execute(select(Plant.id, Plant.look_class).where(Plant.id.in_(plants))).all()
    look_class = {row.id: row.look_class for row in rows}
    counted = [
        rules.units_of(
            queries.units_then(session, lot, act.at),
            lot.unit_of_sale,
            lot.stems_per_bunch,
            untied=lot.untied,
        )
        for lot in lots
    ]
    countable = all(
        rules.is_countable(lot.unit_of_sale, look_class[plant])
        for lot in lots
        for plant in kinds(lot.plant_id, lot.strata)
    )
    return Units(sum(counted), countable)


def _add(session: Session, act: Act, facts: Mapping[str, Any], sample: Sample, found: _Found) -> Inspection:
    inspection = Inspection(
        lot_id=facts["lot_id"],
        tub_id=facts["tub_id"],
        at=act.at,
        method=facts["method"],
        sample_size=sample.size,
        sample_unit=sample.unit,
        lot_size=sample.lot_size,
        strata=facts["strata"],
        full=sample.full,
        clean=found.clean,
        inspector=facts["inspector"],
        note=facts["note"],
        recorded_at=act.now,
        by=act.by,
    )
    session.add(inspection)
    session.flush()
    session.add_all(Finding(inspection_id=inspection.id, **vars(find)) for find in found.findings)
    return inspection


def _add_water(session: Session, inspection: Inspection, place: _Place) -> None:
    session.add_all(
        InspectedWater(
            inspection_id=inspection.id, tub_id=tub_id, whole=place.whole and tub_id == place.tub_id
        )
        for tub_id in place.water
    )


def _seal(session: Session, act: Act, lot: Lot, sample: Sample, found: _Found) -> None:
    cups = Cups(
        lot.unit_of_sale,
        in_vitro=session.get_one(Supplier, lot.supplier_id).in_vitro,
        wet=bool(stays_of(session, [lot.id])[lot.id]) or lot.returned_from_id is not None,
        opened_at=lot.opened_at,
    )
    _refuse(sealed_reasons(cups, sample.size, queries.units_then(session, lot, act.at), found.findings))
    seal(session, act, lot)


def _unseal(act: Act, lots: Sequence[Lot], found: _Found) -> None:
    """Where something that resets the clock was found alive, cups were not sealed."""
    for lot in lots:
        if found.live and lot.sealed_since is not None:
            unseal(lot, act)


def _lock(lots: Sequence[Lot]) -> None:
    for lot in lots:
        lot.regulated_lock = lot.regulated_lock or lot.left > 0


def _told(inspection: Inspection, found: _Found) -> dict[str, Any]:
    told = {name: getattr(inspection, name) for name in TOLD}
    findings = [vars(find) for find in found.findings]
    return {"inspection_id": inspection.id, **told, "findings": findings, "regulated": found.regulated}
