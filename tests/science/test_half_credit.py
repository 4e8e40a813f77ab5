"""Degree-days under half credit, while the eggs lie in a chemical soak; worked by hand."""

import pytest

from service.science.development import Reading, degree_days, reached_at
from service.science.domain import OutOfDomain
from tests.science.logs import NEEDED, POND, START, day, days_after, steady


def test_in_a_chemical_soak_degree_days_count_half() -> None:
    soak = (day(1), day(5))
    assert degree_days(steady(10), START, day(10), POND, half_credit=[soak]) == pytest.approx(8 * 12.1)
    reached = reached_at(steady(40), START, NEEDED, POND, half_credit=[soak])
    assert days_after(reached) == pytest.approx(23.818, abs=1e-3)


@pytest.mark.parametrize(
    "spells",
    [
        [(day(1), day(3)), (day(3), day(5))],
        [(day(2), day(5)), (day(1), day(4))],
        [(day(1), day(5)), (day(2), day(3))],
        [(day(1), day(5)), (day(7), day(7))],
    ],
)
def test_soaks_that_overlap_or_meet_are_halved_once(spells: list[tuple[object, object]]) -> None:
    halved = degree_days(
        steady(10),
        START,
        day(10),
        POND,
        half_credit=spells,  # type: ignore[arg-type]  # pytest's parameters are untyped
    )
    assert halved == pytest.approx(8 * 12.1)


def test_a_soak_before_and_beyond_the_time_counts_inside_it_only() -> None:
    whole = degree_days(steady(10), START, day(10), POND, half_credit=[(day(-5), day(50))])
    assert whole == pytest.approx(5 * 12.1)


def test_a_soak_in_the_middle_of_a_warming_course_is_cut_out_exactly() -> None:
    log = [Reading(START, 9.0), Reading(day(0.25), 15.0)]
    half = degree_days(log, START, day(0.25), POND, half_credit=[(day(0.1), day(0.2))])
    assert half == pytest.approx(12 * 0.25**2 - (12 * 0.2**2 - 12 * 0.1**2) / 2)


def test_spells_and_times_that_run_backwards_are_refused() -> None:
    with pytest.raises(OutOfDomain, match="half credit"):
        degree_days([], START, day(1), POND, half_credit=[(day(1), START)])
    with pytest.raises(OutOfDomain, match="before the start"):
        degree_days([], day(1), START, POND)
