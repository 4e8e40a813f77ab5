"""The report of losses: shrinkage and overage by counts, disposals by their way."""

from datetime import UTC, date, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.db import Database
from service.reports.rules import Sums
from service.reports.rules_losses import Lost, by_month, how
from tests.api import Api
from tests.make_stores import batch_of, copper, material_named
from tests.stores.ledger import ago, day, drawn

EURO = {"value": "10.00", "currency": "EUR"}
MONTH = datetime.now(UTC).strftime("%Y-%m")


def counted(api: Api, batch: dict[str, Any], value: float, **more: Any) -> Any:
    body = {"batch_id": batch["id"], "counted": {"value": value, "unit": "mL"}, **more}
    return api.grower.made("/stock-counts", body)


def disposed(api: Api, batch: dict[str, Any], value: float, way: str) -> Any:
    body = {"batch_id": batch["id"], "quantity": {"value": value, "unit": "mL"}, "way": way, "reason": "old"}
    return api.grower.made("/stock-disposals", body)


def rows(api: Api, query: str = "") -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = api.grower.seen(f"/reports/losses?{query}")["rows"]
    return found


def test_shrinkage_overage_and_disposals_are_rows_of_their_own_with_cost(api: Api) -> None:
    batch = copper(api, 1, cost=EURO)  # 1 L of 1 g/L for 10 EUR: 1 mL is a cent and holds 1 mg
    counted(api, batch, 900)
    counted(api, batch, 850)
    counted(api, batch, 880)
    disposed(api, batch, 200, "hazardous_waste")
    disposed(api, batch, 5, "spilled")
    shown = [
        (row["how"], row["amount"]["value"], row["cost"]["value"], row["active_mass"]["value"], row["lines"])
        for row in rows(api)
    ]
    assert shown == [
        ("counted_over", "30", "0.30", "30", 1),
        ("counted_short", "150", "1.50", "150", 2),
        ("hazardous_waste", "200", "2.00", "200", 1),
        ("spilled", "5", "0.05", "5", 1),
    ]
    assert {(row["material"], row["month"]) for row in rows(api)} == {("copper-stock", MONTH)}


def test_what_was_used_received_or_taken_back_is_no_loss(api: Api, database: Database) -> None:
    batch = copper(api)
    with database.writing() as session:
        drawn(session, "copper-stock", 1000)
    entry = counted(api, batch, 900)["entry_id"]
    api.grower.made(f"/stock-entries/{entry}/reversal", {"reason": "read the wrong can"})
    assert rows(api) == []


def test_what_no_cost_or_strength_is_known_of_is_shown_without(api: Api) -> None:
    counted(api, copper(api, cost=EURO), 900)
    counted(api, copper(api), 900)
    [row] = rows(api)
    assert (row["amount"]["value"], row["cost"], row["lines"]) == ("200", None, 2)


def test_a_loss_counts_for_the_day_it_happened_and_its_material(api: Api) -> None:
    batch = copper(api, 1, **ago(40))
    batch_of(api, "potassium-alum", 1, "kg")
    counted(api, batch, 900, **ago(35))
    assert [row["month"] for row in rows(api)] == [ago(35)["at"][:7]]
    assert rows(api, f"from={day(-10)}") == []
    assert rows(api, f"from={day(-40)}&to={day(-36)}") == []
    assert len(rows(api, f"from={day(-36)}&to={day(-34)}")) == 1
    assert len(rows(api, "material=copper-stock")) == 1
    assert len(rows(api, f"material={material_named(api, 'copper-stock')['id']}")) == 1
    assert rows(api, "material=potassium-alum") == []


def test_losses_are_had_as_csv(api: Api) -> None:
    counted(api, copper(api, cost=EURO), 900)
    answer = api.grower.get("/reports/losses", Accept="text/csv")
    assert answer.mimetype == "text/csv"
    header, row = answer.get_data(as_text=True).split("\r\n")[:2]
    assert header.startswith("month,material,how,amount")
    assert row.startswith(f"{MONTH},copper-stock,counted_short,100")


@pytest.mark.parametrize(
    ("query", "pointer"), [("from=2026-03-02&to=2026-03-01", "from"), ("from=March", "from")]
)
def test_days_that_cannot_be_are_refused(api: Api, query: str, pointer: str) -> None:
    answer = api.grower.get(f"/reports/losses?{query}")
    assert answer.status_code == 422
    assert pointer in answer.get_json()["errors"][0]["pointer"]


@pytest.mark.parametrize(
    ("reason", "way", "amount", "expected"),
    [
        ("count", None, -1, "counted_short"),
        ("count", None, 1, "counted_over"),
        ("disposal", "sewer", -1, "sewer"),
        ("spill", "spilled", -1, "spilled"),
        ("spill", None, -1, "spill"),
    ],
)
def test_a_line_says_how_stock_left(reason: str, way: str | None, amount: int, expected: str) -> None:
    assert how(reason, way, amount) == expected


@given(
    st.lists(
        st.builds(
            Lost,
            st.dates(date(2026, 1, 1), date(2026, 4, 1)),
            st.sampled_from(["a", "b"]),
            st.sampled_from(["counted_short", "sewer"]),
            st.integers(1, 10**9).map(lambda used: Sums(used, used, "EUR", used, 0, 0)),
        ),
        max_size=20,
    )
)
def test_no_loss_is_lost_by_adding_up(lines: list[Lost]) -> None:
    found = by_month(lines)
    assert sum(many for _, many in found.values()) == len(lines)
    assert sum(sums.used for sums, _ in found.values()) == sum(line.sums.used for line in lines)
