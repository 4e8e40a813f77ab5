"""How long plants live: sold plants are no dead ones, and the curve only falls."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.domain import OutOfDomain
from service.science.survival import Watched, kaplan_meier, log_rank, median_days

PLANTS = st.lists(st.builds(Watched, st.integers(0, 30), st.booleans()), min_size=1, max_size=40)
# Twenty plants: deaths on days 2, 5, 5 and 9, four sold on day 7, twelve alive on day 28.
NURSERY = [
    *(Watched(days, died=True) for days in (2, 5, 5, 9)),
    *(Watched(7, died=False) for _ in range(4)),
    *(Watched(28, died=False) for _ in range(12)),
]


def test_sold_plants_are_neither_dead_nor_forgotten() -> None:
    # By hand: 19/20, 17/20, 17/20 x 12/13; all sold ones as dead would give 0.60, without them 0.75.
    curve = kaplan_meier(NURSERY)
    assert [(step.days, step.at_risk, step.deaths) for step in curve] == [(2, 20, 1), (5, 19, 2), (9, 13, 1)]
    assert [step.survival for step in curve] == pytest.approx([0.95, 0.85, 0.85 * 12 / 13])
    assert [step.standard_error for step in curve] == pytest.approx([0.048734, 0.079844, 0.096841], abs=5e-7)
    assert curve[-1].low == pytest.approx(0.518104, abs=1e-6)
    assert curve[-1].high == pytest.approx(0.914412, abs=1e-6)
    assert median_days(curve) is None


def test_a_plant_sold_on_a_day_of_death_was_at_risk_that_day() -> None:
    (step,) = kaplan_meier([Watched(3, died=True), Watched(3, died=False)])
    assert (step.at_risk, step.survival) == (2, 0.5)


def test_when_all_are_dead_nothing_is_left_to_be_unsure_of() -> None:
    curve = kaplan_meier([Watched(1, died=True), Watched(4, died=True)])
    assert curve[0].survival == 0.5
    assert curve[0].standard_error == pytest.approx(math.sqrt(0.5 * 0.5 / 2))
    last = curve[1]
    assert (last.survival, last.standard_error, last.low, last.high) == (0, None, None, None)
    assert median_days(curve) == 1


def test_without_deaths_there_is_no_step() -> None:
    assert kaplan_meier([Watched(28, died=False)]) == ()
    assert median_days(()) is None


def test_half_alive_is_the_median_however_it_was_rounded() -> None:
    # 9/10 x 8/9 x ... x 5/6 is 0.5 and a last bit.
    curve = kaplan_meier([Watched(day, died=day <= 5) for day in range(1, 11)])
    assert curve[-1].survival == pytest.approx(0.5)
    assert median_days(curve) == 5
    above = kaplan_meier([Watched(day, died=day <= 4) for day in range(1, 11)])
    assert median_days(above) is None


@given(PLANTS, st.floats(0.5, 0.99))
def test_the_curve_falls_within_zero_and_one_and_its_limits_hold_it(
    plants: list[Watched], confidence: float
) -> None:
    before = 1.0
    for step in kaplan_meier(plants, confidence):
        assert 0 <= step.survival < before
        before = step.survival
        if step.low is not None and step.high is not None:
            assert 0 <= step.low <= step.survival <= step.high <= 1
            assert step.standard_error is not None
            assert 0 < step.standard_error < 1


@given(PLANTS)
def test_without_censoring_it_is_the_share_alive(plants: list[Watched]) -> None:
    dead = [Watched(plant.days, died=True) for plant in plants]
    for step in kaplan_meier(dead):
        alive = sum(plant.days > step.days for plant in dead)
        assert step.survival == pytest.approx(alive / len(dead), abs=1e-12)


@given(PLANTS)
def test_more_confidence_widens_the_limits(plants: list[Watched]) -> None:
    for narrow, wide in zip(kaplan_meier(plants, 0.8), kaplan_meier(plants, 0.95), strict=True):
        if narrow.low is not None and wide.low is not None:
            assert wide.low < narrow.low


def test_two_plants_by_hand() -> None:
    # Day 1: one of two dies, the first group's; expected 1/2, variance 1/4. Day 2: one alone, no variance.
    found = log_rank([Watched(1, died=True)], [Watched(2, died=True)])
    assert found.chi_square == pytest.approx(1)
    assert found.chance == pytest.approx(math.erfc(math.sqrt(0.5)))


@given(PLANTS, PLANTS)
def test_the_order_of_the_groups_does_not_matter(first: list[Watched], second: list[Watched]) -> None:
    try:
        found = log_rank(first, second)
    except OutOfDomain:
        return
    turned = log_rank(second, first)
    assert found.chi_square == pytest.approx(turned.chi_square, abs=1e-9)
    assert 0 <= found.chance <= 1


def test_groups_alike_do_not_differ() -> None:
    found = log_rank(NURSERY, NURSERY)
    assert found.chi_square == pytest.approx(0)
    assert found.chance == pytest.approx(1)


@pytest.mark.parametrize(
    ("parameter", "refused"),
    [
        ("plants", lambda: kaplan_meier([])),
        ("days", lambda: kaplan_meier([Watched(-1, died=True)])),
        ("days", lambda: kaplan_meier([Watched(1, died=True), Watched(math.nan, died=False)])),
        ("confidence", lambda: kaplan_meier(NURSERY, 1.0)),
        ("plants", lambda: log_rank([], NURSERY)),
        ("plants", lambda: log_rank(NURSERY, [])),
        ("days", lambda: log_rank(NURSERY, [Watched(-1, died=True)])),
        ("plants", lambda: log_rank([Watched(1, died=False)], [Watched(2, died=False)])),
        ("plants", lambda: log_rank([Watched(1, died=False)], [Watched(2, died=True)])),
    ],
)
def test_what_makes_no_curve_is_refused(parameter: str, refused: Callable[[], object]) -> None:
    with pytest.raises(OutOfDomain) as refusal:
        refused()
    assert refusal.value.parameter == parameter
