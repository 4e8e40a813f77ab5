"""Entering and reading tests of soak water with shrimp or water fleas."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import and_, or_, select
from sqlalchemy.orm import Session

from service.clearance.animal_models import AnimalTestRow
from service.clearance.rules_animals import AnimalTest, form_reasons
from service.core.errors import Invalid
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.lots.actions import refuse
from service.lots.models import Lot
from service.lots.queries import lineage
from service.lots.rules import State, ended_reasons
from service.treatments.rules import TreatmentFact

SHOWN = ("id", "lot_id", "animal", "animals", "alive", "started_at", "ended_at", "note", "by")


def enter_test(session: Session, act: Act, lot: Lot, facts: Mapping[str, Any]) -> AnimalTestRow:
    """Enter how a test of a locked lot's soak water ended; raises Invalid for one that cannot be."""
    refuse(lot, ended_reasons(State(lot.state)))
    asked = AnimalTest(facts["animal"], facts["animals"], facts["alive"], facts["started_at"], act.at)
    reasons = form_reasons(asked)
    if reasons:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)
    not_before(asked.started_at, lot.received_at, "the lot's receipt")
    row = AnimalTestRow(lot_id=lot.id, **vars(asked), note=facts["note"], recorded_at=act.now, by=act.by)
    session.add(row)
    session.flush()
    after = {name: getattr(row, name) for name in ("animal", "animals", "alive", "started_at", "ended_at")}
    record(session, act, "lot.tried_on_animals", [row, lot], after=after)
    return row


def test_rows(session: Session, lot: Lot) -> Sequence[AnimalTestRow]:
    """The tests of a lot, and of what it was split from before that, in the order they ended."""
    whole = [
        and_(AnimalTestRow.lot_id == forebear, AnimalTestRow.ended_at <= until)
        for forebear, until in lineage(session, lot.id)
    ]
    statement = select(AnimalTestRow).where(or_(AnimalTestRow.lot_id == lot.id, *whole))
    return session.scalars(statement.order_by(AnimalTestRow.ended_at, AnimalTestRow.id)).all()


def tests_of(session: Session, lot: Lot) -> list[AnimalTest]:
    """The same as the rules take them."""
    rows = test_rows(session, lot)
    return [AnimalTest(row.animal, row.animals, row.alive, row.started_at, row.ended_at) for row in rows]


def soaked_since(lot: Lot, treatments: Sequence[TreatmentFact]) -> datetime:
    """From when on soak water says what clings to a lot: its receipt, and the end of every treatment."""
    poured = [fact for fact in treatments if fact.content["residue"]["kind"] != "none"]
    ends = [fact.ended_at for fact in poured if fact.ended_at is not None]
    doses = [dose.at for fact in poured for dose in fact.doses]
    return max([lot.received_at, *ends, *doses])
