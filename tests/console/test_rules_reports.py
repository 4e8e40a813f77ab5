"""Which numbers of a report are drawn."""

from typing import Any

import pytest

from service.console.rules_chart import BAR_WIDTH
from service.console.rules_reports import MOST_BARS, cost_of, days_to_release, label_of


def row(cost: str | None, currency: str = "EUR", **key: Any) -> dict[str, Any]:
    return {"key": key, "cost": None if cost is None else {"value": cost, "currency": currency}}


def test_costs_of_one_key_are_added_up_and_the_dearest_comes_first() -> None:
    rows = [row("1.50", material="alum"), row("4.00", material="bleach"), row("1.00", material="alum")]
    drawn, currency = cost_of(rows, "material")
    assert [(one.label, one.value, one.x) for one in drawn] == [
        ("bleach", 4.0, BAR_WIDTH),
        ("alum", 2.5, pytest.approx(BAR_WIDTH * 2.5 / 4, abs=0.1)),
    ]
    assert currency == "EUR"


def test_months_stay_in_their_order_and_the_newest_are_kept() -> None:
    months = [f"{2024 + n // 12}-{n % 12 + 1:02d}" for n in range(MOST_BARS + 1)]
    rows = [{"month": month, "cost": {"value": "1", "currency": "EUR"}} for month in reversed(months)]
    drawn, _ = cost_of(rows, "month")
    assert [one.label for one in drawn] == months[1:]


def test_two_currencies_are_not_added_and_what_has_no_cost_is_left_out() -> None:
    assert cost_of([row("1", material="a"), row("1", "USD", material="b")], "material") == ([], "")
    assert cost_of([row(None, material="a")], "material") == ([], "")


def test_a_row_is_called_as_people_call_it() -> None:
    assert label_of(row("1", lot_id="0", code="26-001-01"), "lot") == "26-001-01"
    assert label_of(row("1", supplier_id="0", name="Fenmarsh"), "supplier") == "Fenmarsh"
    assert label_of(row("1", protocol="alum-soak", version=2), "protocol") == "alum-soak 2"
    assert label_of(row("1", protocol=None, version=None), "protocol") == "–"


def test_days_are_drawn_of_what_was_cleared() -> None:
    limits = {"estimate": 40.0, "low": 30.0, "high": 60.0}
    rows = [
        {"key": "alum", "days_to_release": {"median": 40.0, "limits": limits}},
        {"key": "bleach", "days_to_release": {"median": 30.0, "limits": None}},
        {"key": "salt", "days_to_release": {"median": None, "limits": None}},
    ]
    drawn = days_to_release(rows)
    assert [(one.label, one.low, one.high) for one in drawn] == [
        ("alum", BAR_WIDTH / 2, BAR_WIDTH),
        ("bleach", None, None),
    ]
