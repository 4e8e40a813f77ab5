"""Planning a treatment: everything that must hold before lots go into it; nothing is booked yet."""

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.catalogue.queries import worst_level
from service.core.errors import Forbidden, Invalid, Refused
from service.core.reasons import Reason
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.lots.actions import enter_tub, lock_water_group, set_state
from service.lots.models import Lot
from service.lots.queries import hold_causes, water_of
from service.lots.rules import TRIAL, allowed_moves, stop_reasons
from service.lots.rules import State as LotState
from service.lots.rules_strata import kinds
from service.protocols.queries import Written, asked_version, sheet_for, substances
from service.science import amounts
from service.treatments import queries, rules, rules_stems
from service.treatments.models import Treatment, TreatmentLot, TreatmentStep
from service.treatments.stem_queries import tried_on
from service.treatments.stems import plants_in
from service.treatments.washings import unsafe_reasons
from service.tubs.models import Tool, Tub


def plan_treatment(session: Session, act: Act, facts: Mapping[str, Any], *, by_owner: bool) -> Treatment:
    """Plan a protocol version on lots in a tub; the lots go into the tub and are in treatment from now on.

    Raises Refused with every reason: the plant must avoid it, kept in wool, too little usable stock, a
    residue that must not meet it, an open hold, a treatment under way, water shared with others.
    """
    written = asked_version(session, facts)
    _exist(session, facts)
    group = lock_water_group(session, facts["lot_ids"], [facts["tub_id"]], since=act.at)
    lots = [lot for lot in group if lot.id in facts["lot_ids"]]
    tub = session.get_one(Tub, facts["tub_id"])
    volume_l = _volume_l(facts, tub)
    for lot in lots:
        not_before(act.at, lot.received_at, f"the receipt of lot {lot.code}")
    _may_be_treated(session, lots)
    _fits(session, written, lots, facts, by_owner=by_owner)
    _water_is_theirs(session, lots, group, tub, share_water=facts["share_water"])
    steps = rules.substances(written[1].content, substances(session))
    ids = [lot.id for lot in lots]
    _refuse(unsafe_reasons(session, ids, tub.id, act.at, steps, tool_ids=facts["tool_ids"]))
    _can_be_mixed(session, act, written, volume_l)
    enter_tub(session, act, lots, tub, share_water=facts["share_water"], by_intent=True)
    return _plan(session, act, written, lots, (tub, volume_l, steps, facts, by_owner))


def _exist(session: Session, facts: Mapping[str, Any]) -> None:
    if session.get(Tub, facts["tub_id"]) is None:
        raise Invalid.at("#/tub_id", "There is no such tub.", code="unknown-tub")
    asked: Sequence[str] = facts["lot_ids"]
    known = set(session.scalars(select(Lot.id).where(Lot.id.in_(asked))))
    for place, lot_id in enumerate(asked):
        if lot_id not in known:
            raise Invalid.at(f"#/lot_ids/{place}", "There is no such lot.", code="unknown-lot")
        if lot_id in asked[:place]:
            raise Invalid.at(f"#/lot_ids/{place}", "This lot is named twice.", code="named-twice")
    for place, tool_id in enumerate(facts["tool_ids"]):
        if session.get(Tool, tool_id) is None:
            raise Invalid.at(f"#/tool_ids/{place}", "There is no such tool.", code="unknown-tool")


def _volume_l(facts: Mapping[str, Any], tub: Tub) -> float:
    if facts["water_volume"] is None:
        return tub.volume_l
    volume_l = float(amounts.litres(facts["water_volume"]))
    if volume_l > tub.volume_l * (1 + 1e-9):
        raise Invalid.at("#/water_volume", f"The tub holds {tub.volume_l:g} L.", code="more-than-the-tub")
    return volume_l


def _may_be_treated(session: Session, lots: Sequence[Lot]) -> None:
    for lot in lots:
        _refuse(rules.state_reasons(lot.code, lot.state), lot)
    for lot in lots:
        # The room of trials judges the treatments of its own lots, when this one is told of.
        causes = [cause for cause in hold_causes(session, lot.id) if cause != TRIAL]
        stops = stop_reasons(causes, regulated_lock=lot.regulated_lock)
        held = [
            Reason(
                "open-hold" if stop.code == "held" else stop.code,
                f"Lot {lot.code}: {stop.detail}",
                None,
                stop.have,
            )
            for stop in stops
        ]
        _refuse(held, lot)


def _fits(
    session: Session, written: Written, lots: Sequence[Lot], facts: Mapping[str, Any], *, by_owner: bool
) -> None:
    content, method = written[1].content, written[0].method
    if facts["override_reason"] and not by_owner:
        raise Forbidden("Only an owner may override what a plant must avoid.")
    _refuse(
        [
            reason
            for lot in lots
            for reason in rules.wool_reasons(
                lot.code, kept_in_wool=lot.kept_in_wool, avoid_wool=content["avoid_wool"]
            )
        ]
    )
    survived = facts["survived_here"] is not None
    found = []
    for lot in lots:
        level = worst_level(session, kinds(lot.plant_id, lot.strata), method).value
        in_trial = TRIAL in hold_causes(session, lot.id)  # its stems are what is tried
        known = survived or in_trial or content.get("substance") is None
        doubt = [] if known else _doubt(session, lot, method, level)
        found += rules.fit_reasons(
            lot.code, method, level, overridden=bool(facts["override_reason"]), doubt=doubt
        )
    # What must not be done comes before what is in doubt.
    _refuse(sorted(found, key=lambda reason: reason.code != "plant-avoids-method"))


def _doubt(session: Session, lot: Lot, method: str, level: str) -> list[Reason]:
    tried = tried_on(session, lot, method)
    return rules_stems.doubt_reasons(lot.code, method, level, tried, units=plants_in(lot))


def _water_is_theirs(
    session: Session, lots: Sequence[Lot], group: Sequence[Lot], tub: Tub, *, share_water: bool
) -> None:
    water = water_of(session, [tub.id])
    if queries.active_in_water(session, water):
        detail = "A treatment is under way in this water: finish or abandon it first."
        raise Refused("tub-in-treatment", detail)
    ids = {lot.id for lot in lots}
    others = [lot.code for lot in group if lot.tub_id in water and lot.id not in ids]
    if others and not share_water:
        detail = (
            f"This water holds {', '.join(others)} as well; treat them with it, or say share_water: true."
        )
        raise Refused(
            "water-shared", detail, [Reason("water-shared", detail, "share_water", ", ".join(others))]
        )


def _can_be_mixed(session: Session, act: Act, written: Written, volume_l: float) -> None:
    sheet = sheet_for(session, written, water_volume_l=volume_l, at=act.at)
    # A bottle that is missing altogether is a lack of stock; the rest stands against the mix itself.
    lacking = [block for block in sheet.blocks if block.code == "no-strength"]
    _refuse([block for block in sheet.blocks if block.code != "no-strength"])
    missing = [Reason("insufficient-stock", reason.detail, reason.needed, reason.have) for reason in lacking]
    _refuse([*missing, *sheet.shortages])


def _plan(
    session: Session, act: Act, written: Written, lots: Sequence[Lot], told: tuple[Any, ...]
) -> Treatment:
    tub, volume_l, steps, facts, by_owner = told
    protocol, version = written
    overridden = bool(facts["override_reason"]) and by_owner
    treatment = Treatment(
        protocol_version_id=version.id,
        tub_id=tub.id,
        water_volume_l=volume_l,
        state=rules.State.PLANNED.value,
        planned_at=act.at,
        override_reason=facts["override_reason"],
        override_by=act.by if overridden else None,
        trial_stems_reason=facts["trial_stems_reason"],
        survived_here=facts["survived_here"],
        by=act.by,
    )
    session.add(treatment)
    session.flush()
    _add_parts(session, treatment, lots, steps)
    after = {"protocol": protocol.code, "version": version.number, "water_volume_l": volume_l}
    for lot in lots:
        set_state(
            session,
            act,
            lot,
            LotState.IN_TREATMENT,
            why=f"{protocol.code} was planned.",
            treatment_id=treatment.id,
        )
    after |= {name: facts[name] for name in ("override_reason", "trial_stems_reason", "survived_here")}
    record(session, act, "treatment.planned", [treatment, tub, *lots], after=after)
    return treatment


def _add_parts(
    session: Session, treatment: Treatment, lots: Sequence[Lot], steps: Collection[tuple[str, str | None]]
) -> None:
    session.add_all(
        TreatmentLot(treatment_id=treatment.id, lot_id=lot.id, came_from=lot.state) for lot in lots
    )
    session.add_all(
        TreatmentStep(
            treatment_id=treatment.id,
            n=n,
            kind=kind,
            substance=substance,
            state=rules.StepState.OPEN.value,
            sheet=None,  # said, so that a JSON null is stored
            poured=None,
        )
        for n, (kind, substance) in enumerate(steps, start=1)
    )
    session.flush()


def _refuse(reasons: Sequence[Reason], lot: Lot | None = None) -> None:
    if reasons and lot is not None:
        state = LotState(lot.state)
        Refused.unless_empty(
            reasons[0].code, reasons, current_state=state.value, allowed=allowed_moves(state)
        )
    Refused.unless_empty(reasons[0].code if reasons else "", reasons)
