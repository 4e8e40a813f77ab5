"""Planning a trial: units split off real lots, dealt to tubs by a recorded seed, and held from sale."""

import secrets
from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.catalogue.queries import pest_figures
from service.core.errors import Invalid, Refused
from service.core.reasons import Reason
from service.journal.actions import record
from service.journal.acts import Act
from service.lots.actions import enter_tub, lock_water_group
from service.lots.holds import place_hold
from service.lots.models import Lot
from service.lots.queries import lots_in_tub, water_of
from service.lots.rules import TRIAL, State
from service.lots.units import split
from service.protocols.queries import asked_version
from service.trials import rules
from service.trials.models import Trial, TrialArm, TrialTub, TrialUnit
from service.tubs.models import Tub

MOST_SEED = 2**31
STARTS_FROM = frozenset({State.RECEIVED.value, State.IN_QUARANTINE.value})


def plan_trial(session: Session, act: Act, facts: Mapping[str, Any]) -> Trial:
    """Lay a trial out and put its units, as lots of their own, into its tubs; it begins at the act's moment.

    Raises Invalid naming the member, Refused for sources that can't be split or tubs that are not free.
    """
    _name_is_free(session, facts["name"])
    _check(session, facts)
    units = _units_per_arm(facts)
    arms, tub_ids, sources = facts["arms"], facts["tub_ids"], facts["lot_ids"]
    controls = sum(arm["protocol"] is None for arm in arms)
    _refuse(rules.layout_reasons(len(arms), controls, len(tub_ids), units))
    versions = [_version_id(session, place, arm) for place, arm in enumerate(arms)]
    tubs = _tubs(session, tub_ids)
    locked = {lot.id: lot for lot in _locked(session, act, facts)}
    lots = [locked[lot_id] for lot_id in sources]
    _may_be_split(lots, units * len(arms))
    _are_free(session, tubs)
    seed = facts["seed"] if facts["seed"] is not None else secrets.randbelow(MOST_SEED)
    trial = _trial(session, act, facts, seed=seed, units=units)
    dealt = rules.allocate(seed, len(arms), len(tubs), [units * len(arms)] * len(lots))
    rows = _arms_and_tubs(session, trial, facts, versions, dealt)
    children = _split(session, act, trial, (lots, tubs, rows), dealt)
    after = {name: facts[name] for name in ("name", "question", "targets", "blind", "days")}
    after |= {"arms": [arm["code"] for arm in arms], "units_per_arm": units, "tubs": len(tubs)}
    record(session, act, "trial.planned", [trial, *children, *lots, *tubs], after=after)
    return trial


def _name_is_free(session: Session, name: str) -> None:
    if session.scalar(select(Trial.id).where(Trial.name == name)) is not None:
        raise Refused("name-taken", f"There is already a trial called {name}.")


def _check(session: Session, facts: Mapping[str, Any]) -> None:
    known = pest_figures(session)
    found = [
        Reason("unknown-pest", "There is no such pest.", pointer=f"#/targets/{place}/pest")
        for place, target in enumerate(facts["targets"])
        if target["pest"] not in known
    ]
    for name, values in (
        ("arms", [arm["code"] for arm in facts["arms"]]),
        ("tub_ids", facts["tub_ids"]),
        ("lot_ids", facts["lot_ids"]),
    ):
        found += [
            Reason("named-twice", "This is named twice.", pointer=f"#/{name}/{place}")
            for place, value in enumerate(values)
            if value in values[:place]
        ]
    _refuse(found)


def _units_per_arm(facts: Mapping[str, Any]) -> int:
    if facts["units_per_arm"] is not None:
        return int(facts["units_per_arm"])
    if facts["power"] is None:
        detail = "Say how many units an arm gets of each plant, or what the trial is to tell apart (power)."
        raise Invalid.at("#/units_per_arm", detail)
    tubs_per_arm = max(1, len(facts["tub_ids"]) // len(facts["arms"]))
    needed = rules.units_of_power(power_of(facts["power"]), tubs_per_arm)
    return -(-needed // len(facts["lot_ids"]))


def power_of(told: Mapping[str, Any]) -> rules.Power:
    """What a trial is to tell apart, as the rules take it."""
    return rules.Power(**told)


def _version_id(session: Session, place: int, arm: Mapping[str, Any]) -> str | None:
    if arm["protocol"] is None:
        return None
    try:
        return asked_version(session, arm)[1].id
    except Invalid as wrong:
        raise Invalid.at(f"#/arms/{place}/protocol", wrong.detail, code=wrong.code) from wrong


def _tubs(session: Session, tub_ids: Sequence[str]) -> list[Tub]:
    found = []
    for place, tub_id in enumerate(tub_ids):
        tub = session.get(Tub, tub_id)
        if tub is None:
            raise Invalid.at(f"#/tub_ids/{place}", "There is no such tub.", code="unknown-tub")
        if water_of(session, [tub_id]) & set(tub_ids[:place]):
            detail = (
                "This tub shares its water with another of the trial: what is done to one is done to both."
            )
            raise Invalid.at(f"#/tub_ids/{place}", detail, code="shared-water")
        found.append(tub)
    return found


def _locked(session: Session, act: Act, facts: Mapping[str, Any]) -> list[Lot]:
    known = set(session.scalars(select(Lot.id).where(Lot.id.in_(facts["lot_ids"]))))
    for place, lot_id in enumerate(facts["lot_ids"]):
        if lot_id not in known:
            raise Invalid.at(f"#/lot_ids/{place}", "There is no such lot.", code="unknown-lot")
    return lock_water_group(session, facts["lot_ids"], facts["tub_ids"], since=act.at)


def _may_be_split(lots: Sequence[Lot], units: int) -> None:
    for place, lot in enumerate(lots):
        if lot.state not in STARTS_FROM:
            detail = f"Lot {lot.code} is {lot.state}: a trial takes received lots or such in quarantine."
            raise Refused("wrong-state", detail, current_state=lot.state)
        if lot.left - lot.reserved < units:
            detail = (
                f"Lot {lot.code} has {lot.left - lot.reserved} units to give; the arms need {units} of it."
            )
            reason = Reason("not-enough-left", detail, units, lot.left - lot.reserved, f"#/lot_ids/{place}")
            raise Refused("not-enough-left", detail, [reason])


def _are_free(session: Session, tubs: Sequence[Tub]) -> None:
    for tub in tubs:
        if inside := lots_in_tub(session, tub.id):
            codes = ", ".join(lot.code for lot in inside)
            raise Refused("tub-not-free", f"Tub {tub.code} holds {codes}: a trial needs its tubs to itself.")


def _trial(session: Session, act: Act, facts: Mapping[str, Any], *, seed: int, units: int) -> Trial:
    same = {name: facts[name] for name in ("name", "question", "targets", "blind", "power", "days")}
    trial = Trial(**same, seed=seed, units_per_arm=units, starts_at=act.at, recorded_at=act.now, by=act.by)
    session.add(trial)
    session.flush()
    return trial


def _arms_and_tubs(
    session: Session,
    trial: Trial,
    facts: Mapping[str, Any],
    versions: Sequence[str | None],
    dealt: rules.Allocation,
) -> list[TrialTub]:
    arms = [
        TrialArm(trial_id=trial.id, place=place, code=arm["code"], protocol_version_id=version)
        for place, (arm, version) in enumerate(zip(facts["arms"], versions, strict=True))
    ]
    session.add_all(arms)
    session.flush()
    tubs = [
        TrialTub(trial_id=trial.id, arm_id=arms[arm].id, tub_id=tub_id, label=f"t{place:02d}")
        for place, (tub_id, arm) in enumerate(zip(facts["tub_ids"], dealt.arm_of_tub, strict=True), start=1)
    ]
    session.add_all(tubs)
    session.flush()
    return tubs


def _split(
    session: Session,
    act: Act,
    trial: Trial,
    parts: tuple[Sequence[Lot], Sequence[Tub], Sequence[TrialTub]],
    dealt: rules.Allocation,
) -> list[Lot]:
    """Split each source once for every tub; gives the new lots, held, each in its tub."""
    lots, tubs, rows = parts
    shares: dict[tuple[int, int], list[rules.Placed]] = defaultdict(list)
    for unit in dealt.units:
        shares[unit.tub, unit.source].append(unit)
    made: list[Lot] = []
    for tub, row in enumerate(rows):
        here = []
        for source, lot in enumerate(lots):
            units = shares[tub, source]
            child = split(
                session, act, lot, quantity=len(units), tub_id=None, share_water=False, reason=trial.name
            )
            place_hold(session, act, child, cause=TRIAL, reason=f"Trial {trial.name}, {row.label}")
            session.add_all(_unit(trial, row, child, lot, unit) for unit in units)
            here.append(child)
        enter_tub(session, act, here, tubs[tub], share_water=False, by_intent=True)
        made += here
    session.flush()
    return made


def _unit(trial: Trial, row: TrialTub, child: Lot, lot: Lot, unit: rules.Placed) -> TrialUnit:
    return TrialUnit(
        trial_id=trial.id,
        trial_tub_id=row.id,
        lot_id=child.id,
        source_lot_id=lot.id,
        source_number=unit.number,
        label=unit.label,
    )


def _refuse(reasons: Sequence[Reason]) -> None:
    if reasons:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)
