"""Carrying a protocol out: start and finish steps, finish or abandon the whole."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core.errors import Invalid, NotFound, Refused
from service.core.reasons import Reason
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.lots.actions import enter_tub, lock_water_group, set_state
from service.lots.models import Lot
from service.lots.rules import State as LotState
from service.protocols.frozen import freeze
from service.protocols.queries import sheet_for, version_by_id
from service.protocols.rules import Kind
from service.protocols.sheets import StepSheet
from service.treatments import pouring, queries, rules
from service.treatments.baths import dip_into
from service.treatments.changes import change_water
from service.treatments.models import Treatment, TreatmentLot, TreatmentStep
from service.treatments.planning import plan_treatment
from service.treatments.pouring import Cause
from service.treatments.rules import State, StepState
from service.treatments.washings import chlorine_reading, unsafe_reasons
from service.tubs.models import Tub

__all__ = [
    "abandon_treatment",
    "change_water",
    "finish_step",
    "finish_treatment",
    "plan_treatment",
    "start_step",
    "treatment_for_change",
]
LEAST_CHLORINE_MG_PER_L, MOST_CHLORINE_MG_PER_L = 1.0, 100.0  # of a rinse that is neutralised; assumption


def treatment_for_change(
    session: Session, treatment_id: str, tub_ids: Iterable[str | None] = (), *, since: datetime | None = None
) -> Treatment:
    """One treatment, locked after the lots and tubs of its water and of `tub_ids`; raises NotFound."""
    found = queries.treatment_by_id(session, treatment_id)
    places = [found.tub_id, *(tub_id for tub_id in tub_ids if tub_id is not None)]
    lock_water_group(session, queries.lot_ids_of(session, treatment_id), places, since=since)
    return queries.treatment_by_id(session, treatment_id, lock=True)


def start_step(session: Session, act: Act, treatment: Treatment, n: int, facts: Mapping[str, Any]) -> None:
    """Start step `n` of a locked treatment: its sheet is frozen, its stock drawn.

    `facts`: `poured` are (batch, amount) really poured, in place of what the sheet says; with a `bath_id`
    nothing is drawn again. Raises Refused.
    """
    lines, bath_id = facts["poured"], facts["bath_id"]
    steps, lots = queries.steps_of(session, treatment.id), _lots(session, treatment)
    step = _step(steps, n)
    _refuse(rules.start_reasons(State(treatment.state), _seen(steps), n), treatment)
    before = max([treatment.planned_at, *(done.finished_at for done in steps if done.finished_at)])
    not_before(act.at, before, "the end of the step before it")
    lot_ids = [lot.id for lot in lots]
    own = [(step.kind, step.substance)]
    _refuse(unsafe_reasons(session, lot_ids, treatment.tub_id, act.at, own), treatment)
    about: tuple[Any, ...] = (treatment, session.get_one(Tub, treatment.tub_id), *lots)
    if bath_id is None:
        sheet = _mixed(session, act, treatment, step, poured=bool(lines))
        step.sheet = freeze(sheet.document)
        step.poured = _draw(session, act, (treatment, step, sheet), lines, about)
    else:
        about = (*about, dip_into(session, act, bath_id, (treatment, step, lots)))
    step.state, step.started_at = StepState.RUNNING.value, act.at
    step.due_at = rules.due_at(_written(session, treatment)[n - 1]["duration"], act.at)
    treatment.state, treatment.started_at = State.RUNNING.value, treatment.started_at or act.at
    after = {"n": n, "kind": step.kind, "due_at": step.due_at, "poured": step.poured}
    record(session, act, "treatment.step_started", about, after=after)


def finish_step(session: Session, act: Act, treatment: Treatment, n: int, departure: str | None) -> None:
    """Finish the running step `n`; outside its limits in elapsed time Invalid without a `departure`."""
    step = _step(queries.steps_of(session, treatment.id), n)
    _refuse(rules.step_finish_reasons(State(treatment.state), _seen([step])[0]), treatment)
    started_at = step.started_at or act.at
    not_before(act.at, started_at, "the start of the step")
    duration = _written(session, treatment)[n - 1]["duration"]
    elapsed = act.at - started_at
    if rules.departs(duration, elapsed) and not departure:
        detail = (
            f"The step lasted {elapsed.total_seconds():g} s, outside {duration['min_s']} to "
            f"{duration['max_s']} s: say what went differently."
        )
        raise Invalid.at("#/departure", detail, code="departure-needed")
    step.state, step.finished_at, step.departure = StepState.DONE.value, act.at, departure
    after = {"n": n, "kind": step.kind, "departure": departure, "lasted_s": elapsed.total_seconds()}
    about = [treatment, session.get_one(Tub, treatment.tub_id), *_lots(session, treatment)]
    record(session, act, "treatment.step_finished", about, after=after)


def finish_treatment(session: Session, act: Act, treatment: Treatment, facts: Mapping[str, Any]) -> None:
    """Finish a treatment whose steps are all done: its lots go into quarantine, if asked into another tub."""
    steps = queries.steps_of(session, treatment.id)
    _refuse(rules.finish_reasons(State(treatment.state), _seen(steps)), treatment)
    to_tub_id = facts["to_tub_id"]
    to_tub = None if to_tub_id is None else session.get(Tub, to_tub_id)
    if to_tub_id is not None and to_tub is None:
        raise Invalid.at("#/to_tub_id", "There is no such tub.", code="unknown-tub")
    not_before(
        act.at, max(step.finished_at for step in steps if step.finished_at), "the end of its last step"
    )
    treatment.state, treatment.ended_at = State.FINISHED.value, act.at
    after = {"to_tub_id": to_tub_id, "departures": [step.departure for step in steps if step.departure]}
    lots = _end(
        session, act, treatment, kind="treatment.finished", after=after, why="The treatment is finished."
    )
    if to_tub is not None:
        enter_tub(session, act, lots, to_tub, share_water=facts["share_water"], by_intent=True)


def abandon_treatment(session: Session, act: Act, treatment: Treatment, reason: str) -> None:
    """Stop a treatment early; before any step the lots go back to the state that they came from."""
    _refuse(rules.abandon_reasons(State(treatment.state)), treatment)
    steps = queries.steps_of(session, treatment.id)
    known = [moment for step in steps for moment in (step.started_at, step.finished_at) if moment]
    not_before(act.at, max([treatment.planned_at, *known]), "the last thing that was done")
    for step in steps:
        if step.state == StepState.RUNNING:
            step.state, step.finished_at, step.departure = StepState.DONE.value, act.at, reason
    treatment.state, treatment.ended_at, treatment.departure = State.ABANDONED.value, act.at, reason
    after = {"reason": reason, "started": bool(known)}
    why = "The treatment was stopped early." if known else "The treatment was not begun."
    _end(session, act, treatment, kind="treatment.abandoned", after=after, why=why)


def _end(
    session: Session,
    act: Act,
    treatment: Treatment,
    *,
    kind: str,
    after: Mapping[str, Any],
    why: str,
) -> list[Lot]:
    begun = treatment.started_at is not None
    rows = session.scalars(select(TreatmentLot).where(TreatmentLot.treatment_id == treatment.id))
    came_from = {row.lot_id: row.came_from for row in rows}
    lots = [lot for lot in _lots(session, treatment) if lot.state == LotState.IN_TREATMENT]
    for lot in lots:
        to = LotState.IN_QUARANTINE if begun else LotState(came_from[lot.id])
        set_state(session, act, lot, to, why=why, treatment_id=treatment.id)
    about = [treatment, session.get_one(Tub, treatment.tub_id), *lots]
    record(session, act, kind, about, after=after)
    return lots


def _mixed(
    session: Session, act: Act, treatment: Treatment, step: TreatmentStep, *, poured: bool
) -> StepSheet:
    residue = None
    if step.kind == Kind.NEUTRALISE:
        read = chlorine_reading(session, treatment.tub_id, act.at)
        residue = None if read is None else min(max(read, LEAST_CHLORINE_MG_PER_L), MOST_CHLORINE_MG_PER_L)
    sheet = sheet_for(
        session,
        version_by_id(session, treatment.protocol_version_id),
        water_volume_l=treatment.water_volume_l,
        at=act.at,
        only=step.n,
        residue_mg_per_l=residue,
        lock=True,
    )
    if not poured:
        lacking = [block for block in sheet.blocks if block.code == "no-strength"]
        _refuse([block for block in sheet.blocks if block.code != "no-strength"], treatment)
        missing = [Reason("insufficient-stock", block.detail) for block in lacking]
        _refuse([*missing, *sheet.shortages], treatment)
    return sheet.steps[0]


def _draw(
    session: Session,
    act: Act,
    mixed: tuple[Treatment, TreatmentStep, StepSheet],
    lines: Sequence[Mapping[str, Any]],
    about: tuple[Any, ...],
) -> dict[str, Any]:
    treatment, step, sheet = mixed
    material = None if sheet.mix is None else sheet.mix.figures.code
    pours = pouring.poured(session, lines, material, act.at)
    reason = "neutralise" if step.kind == Kind.NEUTRALISE else "treatment"
    cause_id = queries.cause_of(treatment.id, step.n)
    cause = Cause(reason, "treatment_step", cause_id, treatment.id, about)
    if sheet.mix is None or material is None:
        return {"lines": [], "mg_per_l": None}
    if not pours:
        pouring.draw_needs(session, act, sheet.needs, cause)
        return {"lines": [], "mg_per_l": sheet.mix.result_mg_per_l}
    result = pouring.result_mg_per_l(session, pours, material, sheet.mix.volume_l)
    pouring.draw_pours(session, act, pours, material, cause)
    kept = [{"batch_id": line["batch_id"], "amount": freeze(line["amount"])} for line in lines]
    return {"lines": kept, "mg_per_l": result}


def _lots(session: Session, treatment: Treatment) -> list[Lot]:
    ids = queries.lot_ids_of(session, treatment.id)
    return list(session.scalars(select(Lot).where(Lot.id.in_(ids)).order_by(Lot.id)))


def _written(session: Session, treatment: Treatment) -> list[Mapping[str, Any]]:
    content = version_by_id(session, treatment.protocol_version_id)[1].content
    steps: list[Mapping[str, Any]] = content["steps"]
    return steps


def _step(steps: Sequence[TreatmentStep], n: int) -> TreatmentStep:
    found = next((step for step in steps if step.n == n), None)
    if found is None:
        raise NotFound("step")
    return found


def _seen(steps: Sequence[TreatmentStep]) -> list[rules.Step]:
    return [rules.Step(step.n, step.kind, step.state) for step in steps]


def _refuse(reasons: Sequence[Reason], treatment: Treatment) -> None:
    if reasons:
        state = State(treatment.state)
        Refused.unless_empty(
            reasons[0].code, reasons, current_state=state.value, allowed=rules.allowed_moves(state)
        )
