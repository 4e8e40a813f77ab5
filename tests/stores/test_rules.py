"""What a bottle holds today, whether it may be used, which one goes first."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.stores.labels import Basis, label_strength
from service.stores.rules import (
    BatchFacts,
    BatchToday,
    Strength,
    active_mg,
    batch_today,
    first_expired_first_out,
    first_to_expire,
    keeps_until,
    reversal_reasons,
    shortage,
    strength_today,
)

FILLED = date(2026, 1, 1)
G_8_25 = 87.75  # g/L chlorine of 8.25 % NaOCl by mass: density fit of our own, ±1 %


def bleach(**changes: Any) -> BatchFacts:
    facts = BatchFacts(
        batch_id="b",
        material_code="bleach",
        substance="chlorine",
        form="liquid",
        base_unit="uL",
        balance=5_000_000,
        received_on=FILLED,
        received_at=datetime(2026, 1, 1, 9, tzinfo=UTC),
        made_on=FILLED,
        strength_g_per_l=G_8_25,
        ageing="hypochlorite_second_order",
        shelf_life_days=365,
        opened_life_days=180,
    )
    return replace(facts, **changes)


def after(days: int) -> date:
    return FILLED + timedelta(days=days)


# The definitions of White, Handbook of Chlorination (1972): trade % is grams of chlorine in 100 mL, available
# chlorine is 0.9525 of the sodium hypochlorite. The g/L by mass rest on our density fit, hence 1 %.
@pytest.mark.parametrize(
    ("value", "basis", "g_per_l", "within"),
    [
        (10, Basis.TRADE, 100, 1e-9),
        (10, Basis.NAOCL_WV, 95.25, 1e-4),
        (5.25, Basis.NAOCL_WW, 53.57, 0.01),
        (6, Basis.NAOCL_WW, 61.85, 0.01),
        (8.25, Basis.NAOCL_WW, 87.75, 0.01),
        (7.858, Basis.AVAIL_CL_WW, 87.75, 0.01),
        (1, Basis.G_PER_L, 1, 1e-9),
        (3, Basis.PERCENT_WV, 30, 1e-9),
    ],
)
def test_a_label_means_grams_in_a_litre(value: float, basis: Basis, g_per_l: float, within: float) -> None:
    found, fraction = label_strength(value, basis)
    assert found == pytest.approx(g_per_l, rel=within)
    assert fraction is None


def test_a_solid_is_a_share_of_its_substance() -> None:
    assert label_strength(0.2545, Basis.MASS_FRACTION) == (None, 0.2545)


@pytest.mark.parametrize(
    ("value", "basis"),
    [(1.1, Basis.MASS_FRACTION), (0, Basis.MASS_FRACTION), (25, Basis.TRADE), (2001, Basis.G_PER_L)],
)
def test_a_strength_that_cannot_be_is_refused(value: float, basis: Basis) -> None:
    with pytest.raises(ValueError, match=r"fraction|percent|strength"):
        label_strength(value, basis)


# Computed with the Gordon-Adam rate of the AWWA report (2009, coefficients from memory), whose half-lives
# were held against a handbook table: 8.25 % keeps 0.681 after 180 d at 25 °C, 0.684 after a year at 20 °C.
@pytest.mark.parametrize(
    ("g_per_l", "days", "celsius", "left"),
    [
        (87.75, 180, 25.0, 59.80),
        (87.75, 365, 20.0, 60.00),
        (61.85, 365, 20.0, 49.33),
        (61.85, 90, 30.0, 49.22),
    ],
)
def test_bleach_ages(g_per_l: float, days: int, celsius: float, left: float) -> None:
    strength = strength_today(bleach(strength_g_per_l=g_per_l, shelf_celsius=celsius), after(days))
    assert strength.g_per_l == pytest.approx(left, rel=2e-3)
    assert strength.aged


def test_bleach_of_unknown_age_counts_as_sixty_warm_days_old() -> None:
    known = strength_today(bleach(made_on=after(-60), shelf_celsius=25.0), FILLED)
    assert strength_today(bleach(made_on=None), FILLED) == known


def test_a_measured_strength_overrides_label_and_age() -> None:
    facts = bleach(measured_g_per_l=75.0, measured_on=after(100))
    assert strength_today(facts, after(100)) == Strength(75.0, None, 1.0, aged=False)
    later = strength_today(facts, after(150)).g_per_l
    assert later is not None
    assert 60 < later < 75


def test_a_later_measurement_does_not_change_an_earlier_day() -> None:
    assert strength_today(bleach(measured_g_per_l=75.0, measured_on=after(100)), after(99)) == strength_today(
        bleach(), after(99)
    )


def test_what_does_not_age_keeps_its_strength() -> None:
    copper = bleach(ageing=None, strength_g_per_l=1.0)
    assert strength_today(copper, after(300)) == Strength(1.0, None, 1.0, aged=False)
    alum = bleach(ageing=None, strength_g_per_l=None, content_fraction=1.0, base_unit="mg", form="solid")
    assert strength_today(alum, after(300)) == Strength(None, 1.0, 1.0, aged=False)


@given(st.integers(0, 200), st.integers(0, 100))
def test_bleach_never_gets_stronger(days: int, more: int) -> None:
    first, second = (strength_today(bleach(), after(d)).share for d in (days, days + more))
    assert second <= first


@pytest.mark.parametrize(
    ("changes", "on", "words"),
    [
        ({"balance": 0}, FILLED, "empty"),
        ({"blocked": True, "block_reason": "leaks"}, FILLED, "blocked: leaks"),
        ({}, after(-1), "not here before 2026-01-01"),
        ({"expires_on": after(10)}, after(11), "expired on 2026-01-11"),
        ({"ageing": None}, after(366), "expired on 2027-01-01"),
        ({"ageing": None, "made_on": None}, after(366), "expired on 2027-01-01"),
        ({"ageing": None, "opened_on": after(1)}, after(182), "opened more than 180 days ago"),
        ({"shelf_celsius": 61.0}, after(1), "10 to 60"),
        ({"strength_g_per_l": 10.0}, after(1), "25 to 160"),
        ({"shelf_celsius": 35.0}, after(120), "half of the strength"),
        ({"shelf_celsius": 25.0}, after(180), "68%"),
    ],
)
def test_a_batch_that_may_not_be_used_says_why(changes: dict[str, Any], on: date, words: str) -> None:
    found = batch_today(bleach(**changes), on)
    assert not found.usable
    assert len(found.why_not) == 1
    assert words in found.why_not[0]


@pytest.mark.parametrize(
    ("changes", "on"),
    [
        ({}, FILLED),
        ({"expires_on": after(10)}, after(10)),
        ({"ageing": None, "opened_on": after(1)}, after(181)),
        ({"shelf_celsius": 25.0, "measured_g_per_l": 58.0, "measured_on": after(180)}, after(180)),
    ],
)
def test_a_batch_may_be_used_on_its_last_day_or_when_measured(changes: dict[str, Any], on: date) -> None:
    found = batch_today(bleach(**changes), on)
    assert found.usable
    assert found.why_not == ()


def test_a_batch_keeps_until_the_earlier_of_expiry_and_opened_life() -> None:
    # [P] usual in stock-keeping: effective expiry is the earlier of the label's and opened plus life.
    assert keeps_until(bleach(expires_on=after(300))) == after(300)
    assert keeps_until(bleach(expires_on=after(300), opened_on=after(10))) == after(190)
    assert keeps_until(bleach(expires_on=after(100), opened_on=after(10))) == after(100)


def on_shelf(batch_id: str, balance: int, expires_on: date | None, *, usable: bool = True) -> BatchToday:
    return BatchToday(
        batch_id, "m", "s", "liquid", "uL", balance, 1.0, None, False, expires_on, None, None, usable, ()
    )  # fmt: skip


def test_the_first_to_expire_goes_first() -> None:
    # Worked by hand: 350 mL from A (300 mL, expires 1 March) and B (200 mL, 10 February) are B 200 + A 150.
    a, b = on_shelf("A", 300_000, date(2026, 3, 1)), on_shelf("B", 200_000, date(2026, 2, 10))
    assert first_expired_first_out([b, a], 350_000) == [(b, 200_000), (a, 150_000)]


def test_what_expires_within_the_course_is_left_alone() -> None:
    a, b = on_shelf("A", 300, date(2026, 3, 1)), on_shelf("B", 200, date(2026, 2, 10))
    taken = first_expired_first_out([b, a], 350, date(2026, 2, 20))
    assert taken == [(a, 300)]
    assert shortage(taken, 350) == 50


def test_what_may_not_be_used_is_left_alone() -> None:
    assert first_expired_first_out([on_shelf("A", 300, None, usable=False)], 1) == []


@given(
    st.lists(st.tuples(st.integers(0, 1000), st.booleans()), max_size=8),
    st.integers(-5, 5000),
)
def test_never_more_is_taken_than_is_needed_or_there(stock: list[tuple[int, bool]], needed: int) -> None:
    batches = [on_shelf(str(n), amount, None, usable=usable) for n, (amount, usable) in enumerate(stock)]
    taken = first_expired_first_out(batches, needed)
    there = sum(batch.balance for batch in batches if batch.usable)
    assert sum(amount for _, amount in taken) == min(max(0, needed), there)
    assert all(amount <= batch.balance for batch, amount in taken)
    assert shortage(taken, needed) == max(0, needed - there)


def test_equal_expiry_goes_by_receipt_and_then_by_id() -> None:
    early, late = bleach(batch_id="z"), bleach(batch_id="a", received_at=datetime(2026, 1, 2, tzinfo=UTC))
    assert sorted([late, early], key=first_to_expire) == [early, late]
    assert first_to_expire(bleach(batch_id="a")) < first_to_expire(bleach(batch_id="b"))


@pytest.mark.parametrize(
    ("amount", "unit", "strength", "expected"),
    [
        (16_000, "uL", Strength(1.0, None, 1.0, aged=False), 16),  # 16 mL of 1 g/L copper hold 16 mg
        (-305_000, "uL", Strength(87.75, None, 1.0, aged=False), -26764),  # 0.305 L x 87.75 g/L
        (62_870, "mg", Strength(None, 0.2545, 1.0, aged=False), 16_000),  # copper sulfate pentahydrate
        (5, "mg", Strength(None, None, 1.0, aged=False), None),
        (5, "uL", Strength(None, None, 0.0, aged=True), None),
    ],
)
def test_the_mass_of_the_substance_follows_from_the_strength(
    amount: int, unit: str, strength: Strength, expected: int | None
) -> None:
    assert active_mg(amount, unit, strength) == expected


@pytest.mark.parametrize(
    ("reason", "before", "codes"),
    [
        ("treatment", False, []),
        ("treatment", True, ["already-reversed"]),
        ("reversal", False, ["not-reversible"]),
    ],
)
def test_a_line_is_reversed_once_and_a_reversal_never(reason: str, before: bool, codes: list[str]) -> None:
    assert [found.code for found in reversal_reasons(reason, reversed_before=before)] == codes
