"""What lines of the ledger mean, and how they add up."""

from datetime import date
from decimal import Decimal

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


def line(reason: str, *, way: str | None = None, active: int | None = -16, cost: int | None = 1250) -> Sums:
    return sums_of_line(
        amount=-16_000,
        active_mg=active,
        reason=reason,
        way=way,
        received=1_000_000,
        cost_minor=cost,
        currency="EUR",
    )


def test_a_use_costs_its_share_of_the_bottle_and_ends_in_the_drain() -> None:
    # 16 mL of a litre that cost 12.50: 0.20.
    assert line("treatment") == Sums(16_000, 200_000, "EUR", 16, 16, 16)


@pytest.mark.parametrize(
    ("reason", "way", "discharged"),
    [
        ("redose", None, 16),
        ("neutralise", None, 16),
        ("spill", "spilled", 16),
        ("disposal", "sewer", 16),
        ("disposal", "returned", 0),
        ("disposal", "hazardous_waste", 0),
    ],
)
def test_only_what_goes_down_the_drain_is_discharged(reason: str, way: str | None, discharged: int) -> None:
    assert line(reason, way=way).discharged_mg == discharged


def test_what_is_not_known_stays_unknown() -> None:
    assert line("treatment", active=None, cost=None) == Sums(16_000, None, None, None, None, None)
    assert added(line("treatment"), line("treatment", active=None, cost=None)) == Sums(
        32_000, None, None, None, None, None
    )


def test_money_of_two_currencies_is_not_added() -> None:
    both = added(Sums(1, 5, "EUR", 0, 0, 0), Sums(1, 5, "USD", 0, 0, 0))
    assert (both.cost_micro, both.currency) == (None, None)
    assert added(both, Sums(1, 5, "EUR", 0, 0, 0)).cost_micro is None


def test_a_disposal_is_no_use_but_is_discharged() -> None:
    assert as_use("disposal", Sums(5, 5, "EUR", 5, 5, 5)) == Sums(0, 0, None, 0, 5, 5)
    assert as_use("treatment", Sums(5, 5, "EUR", 5, 5, 5)) == Sums(5, 5, "EUR", 5, 5, 5)


def test_lines_of_one_day_material_protocol_and_reason_are_one() -> None:
    one = Consumed(DAY, "m", "alum-soak/1", "treatment", Sums(1, 1, "EUR", 1, 1, 1))
    other = Consumed(DAY, "m", "", "treatment", Sums(2, 2, "EUR", 2, 2, 2))
    assert grouped([one, other, one]) == [
        other,
        Consumed(DAY, "m", "alum-soak/1", "treatment", Sums(2, 2, "EUR", 2, 2, 2)),
    ]


@given(st.integers(0, 10**9), st.none() | st.integers(0, 10**9), st.integers(1, 9))
def test_shares_add_up_to_the_whole(used: int, cost: int | None, parts: int) -> None:
    whole = Sums(used, cost, None if cost is None else "EUR", used, used, used // 7)
    found = shared(whole, parts)
    assert len(found) == parts
    assert totals((0, part) for part in found)[0] == whole
    assert max(part.used for part in found) - min(part.used for part in found) <= 1


# ISO 8601: 1 January 2027 is a Friday and lies in week 53 of 2026.
@pytest.mark.parametrize(
    ("by", "day", "expected"),
    [
        (By.DAY, DAY, "2026-03-02"),
        (By.WEEK, DAY, "2026-W10"),
        (By.WEEK, date(2027, 1, 1), "2026-W53"),
        (By.MONTH, DAY, "2026-03"),
    ],
)
def test_days_fall_into_periods(by: By, day: date, expected: str) -> None:
    assert period(by, day) == expected


@pytest.mark.parametrize(
    ("micro", "shown"),
    [(200_000, "0.20"), (1_234_560, "1.2346"), (1_000_000, "1.00"), (12_500_000, "12.50"), (0, "0.00")],
)
def test_money_is_exact_text(micro: int, shown: str) -> None:
    found = money(Sums(1, micro, "EUR", 0, 0, 0))
    assert found == {"value": shown, "currency": "EUR"}
    assert abs(Decimal(shown) - Decimal(micro) / 10**6) <= Decimal("0.00005")


def test_unknown_money_is_not_shown() -> None:
    assert money(Sums(1, None, None, 0, 0, 0)) is None
    assert money(NOTHING) is None
