"""What the database adds up is what the rules add up: unknown parts and mixed currencies included."""

from datetime import date, timedelta
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import delete, insert
from sqlalchemy.orm import Session

from service.core.ids import new_id
from service.reports.models import ConsumptionDay
from service.reports.queries import from_rollup
from service.reports.rolled import rolled_up
from service.reports.rules import By, Consumed, as_use, totals
from service.reports.spans import Span

FIRST = date(2026, 3, 2)
MATERIALS = (new_id(), new_id())
amounts = st.integers(0, 10**12)
money = st.none() | st.tuples(amounts, st.sampled_from(["EUR", "USD"]))
row = st.fixed_dictionaries(
    {
        "day": st.integers(0, 2).map(lambda days: FIRST + timedelta(days)),
        "material_id": st.sampled_from(MATERIALS),
        "protocol": st.sampled_from(["", "alum-soak/1"]),
        "reason": st.sampled_from(["treatment", "neutralise", "disposal", "spill"]),
        "used": amounts,
        "money": money,
        "active_mg": st.none() | amounts,
        "discharged_mg": st.none() | amounts,
        "left_mg": st.none() | amounts,
    }
)
rollups = st.lists(
    row, min_size=1, unique_by=lambda r: (r["day"], r["material_id"], r["protocol"], r["reason"])
)


def stored(found: dict[str, Any]) -> dict[str, Any]:
    cost, currency = found["money"] or (None, None)
    return {name: found[name] for name in found if name != "money"} | {
        "cost_micro": cost,
        "currency": currency,
    }


def part(line: Consumed, by: By) -> date | str | None:
    return {By.MATERIAL: None, By.PROTOCOL: line.protocol, By.DAY: line.day}[by]


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(rollups, st.sampled_from([By.MATERIAL, By.PROTOCOL, By.DAY]), st.booleans())
def test_the_database_adds_up_as_the_rules_do(
    session: Session, rows: list[dict[str, Any]], by: By, first_day_is_owed: bool
) -> None:
    session.execute(delete(ConsumptionDay))
    session.execute(insert(ConsumptionDay), [stored(found) for found in rows])
    without = {FIRST} if first_day_is_owed else set()
    expected = totals(
        ((part(line, by), line.material_id), as_use(line.reason, line.sums))
        for line in from_rollup(session, Span())
        if line.day not in without
    )
    session.expunge_all()
    found = rolled_up(session, Span(), by, without)
    assert totals(((key, of), sums) for key, of, sums in found) == expected
