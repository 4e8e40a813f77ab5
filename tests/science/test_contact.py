"""Concentration times time, with and without decay, and how far it may be compared."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from service.science import contact
from service.science.domain import OutOfDomain
from service.science.solutions import decayed_mg_per_l


def test_contact_is_concentration_times_minutes() -> None:
    assert contact.contact_product(2678.5, 2) == 5357
    assert contact.minutes_for(5357, 4388) * 60 == pytest.approx(73.25, rel=1e-3)


@pytest.mark.parametrize("rate", [0.0, 1e-12, 0.05, 1.0, 20.0])
def test_with_decay_it_is_the_area_under_the_curve(rate: float) -> None:
    area, _ = quad(lambda minute: decayed_mg_per_l(1000, rate, minute), 0, 10)
    assert contact.decaying_contact_product(1000, rate, 10) == pytest.approx(area, rel=1e-7)


def test_no_time_is_no_contact() -> None:
    assert contact.decaying_contact_product(1000, 0.5, 0) == 0


@given(st.floats(0, 1e4), st.floats(0, 2), st.floats(0, 60))
def test_decay_never_adds_contact(mg_per_l: float, rate: float, minutes: float) -> None:
    full = contact.contact_product(mg_per_l, minutes)
    assert contact.decaying_contact_product(mg_per_l, rate, minutes) <= full * (1 + 1e-12)


@pytest.mark.parametrize(
    ("mg_per_l", "minutes", "verdict"),
    [
        (2700, 2, "ok"),
        (2700, 2.5, "ok"),  # 1.25 times
        (2700, 2.51, "warn"),
        (5400, 1, "ok"),
        (1350, 4, "ok"),
        (5400, 4, "warn"),
        (1350, 1, "ok"),
    ],
)
def test_a_plan_is_held_against_what_is_proven(mg_per_l: float, minutes: float, verdict: str) -> None:
    assert contact.comparable(mg_per_l, minutes, proven_mg_per_l=2700, proven_minutes=2) == verdict


@pytest.mark.parametrize(
    ("parameter", "mg_per_l", "minutes"),
    [("mg_per_l", 5401, 2), ("mg_per_l", 1349, 2), ("minutes", 2700, 4.01), ("minutes", 2700, 0.99)],
)
def test_beyond_twice_or_half_nothing_is_concluded(parameter: str, mg_per_l: float, minutes: float) -> None:
    with pytest.raises(OutOfDomain) as refusal:
        contact.comparable(mg_per_l, minutes, proven_mg_per_l=2700, proven_minutes=2)
    assert refusal.value.parameter == parameter


def test_contact_needs_numbers_that_are_there() -> None:
    refusals: tuple[Callable[[], object], ...] = (
        lambda: contact.contact_product(-1, 1),
        lambda: contact.contact_product(1, -1),
        lambda: contact.decaying_contact_product(1, -0.1, 1),
        lambda: contact.minutes_for(-1, 1),
        lambda: contact.minutes_for(1, 0),
    )
    for refused in refusals:
        with pytest.raises(OutOfDomain):
            refused()


def test_nothing_compares_with_a_dip_that_was_none() -> None:
    with pytest.raises(OutOfDomain, match="proven_mg_per_l"):
        contact.comparable(1, 1, proven_mg_per_l=0, proven_minutes=1)
    with pytest.raises(OutOfDomain, match="proven_minutes"):
        contact.comparable(1, 1, proven_mg_per_l=1, proven_minutes=0)
