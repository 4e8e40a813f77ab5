"""What ledger lines mean in a report, and how they add up."""

from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.reports.rules import (
    NOTHING,
    By,
    Consumed,
    Sums,
    added,
    as_use,
    grouped,
    money,
    period,
    shared,
    sums_of_line,
    totals,
)

DAY = date(2026, 3, 2)


def line(**changes: Any) -> Sums:
    plain: dict[str, Any] = {
        "amount": -250,
        "active_mg": -20,
        "reason": "treatment",
        "way": None,
        "received": 1000,
        "cost_minor": 800,
        "currency": "EUR",
    }
    return sums_of_line(**{**plain, **changes})


def test_what_is_used_costs_its_share_and_ends_in_the_drain() -> None:
    assert line() == Sums(250, 2_000_000, "EUR", 20, 20)


def test_what_costs_or_holds_nothing_known_stays_unknown() -> None:
    assert line(cost_minor=None, currency=None).cost_micro is None
    assert line(active_mg=None).active_mg is None
    assert money(line(cost_minor=None, currency=None)) is None


@pytest.mark.parametrize(("way", "discharged"), [("sewer", 20), ("spilled", 20), ("collected", 0), (None, 0)])
def test_of_what_is_disposed_of_only_what_was_poured_away_counts(way: str | None, discharged: int) -> None:
    found = line(reason="disposal", way=way)
    assert found.discharged_mg == discharged
    assert as_use("disposal", found) == Sums(0, 0, None, 0, discharged)
    assert as_use("treatment", line()) == line()


def test_money_of_two_currencies_is_not_added() -> None:
    assert added(line(), line(currency="USD")).cost_micro is None
    assert added(NOTHING, line()) == line()


def test_lines_of_a_day_are_one_row() -> None:
    rows = grouped([Consumed(DAY, "m", "alum-soak/1", "treatment", line()) for _ in range(2)])
    assert [row.sums.used for row in rows] == [500]
    assert totals([("a", line()), ("b", line())])["a"] == line()


@given(st.integers(0, 10**9), st.integers(1, 40))
def test_a_shared_bath_is_split_without_losing_a_drop(used: int, parts: int) -> None:
    sums = shared(Sums(used, used, "EUR", None, used), parts)
    assert sum(part.used for part in sums) == used
    assert max(part.used for part in sums) - min(part.used for part in sums) <= 1
    assert all(part.active_mg is None for part in sums)


@pytest.mark.parametrize(
    ("by", "day", "shown"),
    [
        (By.DAY, DAY, "2026-03-02"),
        (By.MONTH, DAY, "2026-03"),
        (By.WEEK, DAY, "2026-W10"),
        # ISO 8601: the first week is the one with the year's first Thursday
        (By.WEEK, date(2027, 1, 1), "2026-W53"),
    ],
)
def test_periods_are_those_of_iso_8601(by: By, day: date, shown: str) -> None:
    assert period(by, day) == shown


def test_cost_is_exact_text() -> None:
    assert money(line()) == {"value": "2.00", "currency": "EUR"}
    assert money(Sums(1, 123_456, "EUR", None, None)) == {"value": "0.1235", "currency": "EUR"}
