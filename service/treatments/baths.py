"""Mixing one bath for several lots in turn, testing it, throwing it away, and dipping a lot into it."""

from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Any

from sqlalchemy.orm import Session

from service.core.errors import Invalid, Refused
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.lots.models import Lot
from service.lots.stays import touch_by_tool
from service.protocols.frozen import freeze
from service.protocols.queries import asked_version, sheet_for, version_by_id
from service.protocols.sheets import StepSheet
from service.science.amounts import litres, mg_per_l
from service.treatments import bath_queries, pouring, rules_baths
from service.treatments.models import Bath, BathReading, Treatment, TreatmentStep
from service.treatments.pouring import Cause


def mix_bath(session: Session, act: Act, facts: Mapping[str, Any]) -> Bath:
    """Mix the bath of one step of a protocol version: its stock is drawn now, once.

    Raises Refused when the step is none for a bath or too little is there, Invalid for an unknown step.
    """
    written = asked_version(session, facts)
    n, content = facts["step"], written[1].content
    _check_step(content, n)
    volume_l = float(litres(facts["volume"]))
    sheet = sheet_for(session, written, water_volume_l=volume_l, at=act.at, only=n, lock=True)
    if not facts["poured"]:
        lacking = [*sheet.blocks, *sheet.shortages]
        Refused.unless_empty(lacking[0].code if lacking else "insufficient-stock", lacking)
    step = sheet.steps[0]
    if step.mix is None:
        raise ValueError("A step that doses has a mix.")
    bath = Bath(
        protocol_version_id=written[1].id,
        step_n=n,
        volume_l=volume_l,
        mixed_at=act.at,
        discard_at=act.at + timedelta(seconds=content["bath"]["discard_after_s"]),
        plant_load_limit=facts["plant_load_limit"],
        target_mg_per_l=step.mix.target_mg_per_l,
        mixed_mg_per_l=step.mix.result_mg_per_l,
        sheet=freeze(step.document),
        poured=[],
        by=act.by,
    )
    session.add(bath)
    session.flush()
    _draw(session, act, bath, step, facts["poured"])
    after = {"protocol": written[0].code, "version": written[1].number, "step": n, "volume_l": volume_l}
    record(session, act, "bath.mixed", [bath], after={**after, "mg_per_l": bath.mixed_mg_per_l})
    return bath


def read_bath(session: Session, act: Act, bath: Bath, facts: Mapping[str, Any]) -> BathReading:
    """Write down what a kit read in a locked bath."""
    not_before(act.at, bath.mixed_at, "the bath was mixed")
    found = float(mg_per_l(facts["strength"]))
    reading = BathReading(bath_id=bath.id, at=act.at, mg_per_l=found, kit=facts["kit"], by=act.by)
    session.add(reading)
    record(session, act, "bath.tested", [bath], after={"mg_per_l": found, "kit": facts["kit"]})
    return reading


def discard_bath(session: Session, act: Act, bath: Bath, reason: str) -> None:
    """Throw a locked bath away, as its sheet says; Refused when it was before."""
    if bath.discarded_at is not None:
        raise Refused("bath-discarded", "The bath was thrown away already.")
    not_before(act.at, bath.mixed_at, "the bath was mixed")
    bath.discarded_at, bath.discard_reason = act.at, reason
    record(session, act, "bath.discarded", [bath], after={"reason": reason})


def dip_into(
    session: Session, act: Act, bath_id: str, dipped: tuple[Treatment, TreatmentStep, Sequence[Lot]]
) -> Bath:
    """Dip the lots of a locked treatment into a bath, as the step says: nothing is drawn again.

    What was in the bath before has touched them, as a net would have. Refused for another step than it was
    mixed for, when it is too old, too weak or full; Invalid for an unknown one.
    """
    treatment, step, lots = dipped
    bath = bath_queries.find(session, bath_id, lock=True)
    if bath is None:
        raise Invalid.at("#/bath_id", "There is no such bath.", code="unknown-bath")
    if (bath.protocol_version_id, bath.step_n) != (treatment.protocol_version_id, step.n):
        raise Refused("wrong-bath", "The bath was mixed for another step or version of a protocol.")
    facts = bath_queries.facts_of(session, bath, version_by_id(session, bath.protocol_version_id)[1].content)
    reasons = rules_baths.bath_reasons(facts, act.at)
    plants = sum(lot.left for lot in lots)
    reasons += rules_baths.load_reasons(facts, plants)
    Refused.unless_empty(reasons[0].code if reasons else "bath-too-old", reasons)
    for tub_id, left_at in bath_queries.dipped_before(session, bath.id, treatment.tub_id):
        touch_by_tool(session, act, lots, tub_id, left_at)
    step.bath_id, step.sheet = bath.id, bath.sheet
    step.poured = {"lines": [], "mg_per_l": facts.holds_mg_per_l(act.at), "plants": plants}
    return bath


def _check_step(content: Mapping[str, Any], n: int) -> None:
    step = next((step for step in content["steps"] if step["n"] == n), None)
    if step is None:
        raise Invalid.at("#/step", "The protocol has no such step.", code="unknown-step")
    Refused.unless_empty("not-for-a-bath", rules_baths.suits_reasons(content, step))


def _draw(
    session: Session, act: Act, bath: Bath, step: StepSheet, lines: Sequence[Mapping[str, Any]]
) -> None:
    cause = Cause("treatment", "bath", bath.id, None, (bath,))
    if step.mix is None or not lines:
        pouring.draw_needs(session, act, step.needs, cause)
        return
    material = step.mix.figures.code
    pours = pouring.poured(session, lines, material, act.at)
    bath.mixed_mg_per_l = pouring.result_mg_per_l(session, pours, material, bath.volume_l)
    bath.poured = [{"batch_id": line["batch_id"], "amount": freeze(line["amount"])} for line in lines]
    pouring.draw_pours(session, act, pours, material, cause)
