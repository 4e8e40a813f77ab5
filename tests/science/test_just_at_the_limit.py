"""What lies right at a limit belongs to the side the formulas say; each figure by hand or its closed form."""

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import numpy as np
import pytest
from statsmodels.stats.proportion import confint_proportions_2indep

from service.science.amounts import Amount, present
from service.science.arrays import hours_until
from service.science.credit import half_borders
from service.science.development import hatched_out_at, latest_reached_at, visible_at
from service.science.domain import OutOfDomain
from service.science.freedom import probability_of_freedom, unseen_shares
from service.science.large_lots import beta_binomial_miss, upper_share
from service.science.measuring import Device, best_device, dropper, measurable
from service.science.proportions import (
    LEAST_CONFIDENCE,
    effective_sample_size,
    exact_interval,
    risk_ratio,
    share_difference,
    two_sided_factor,
    units_per_arm,
    wilson_interval,
)
from service.science.readings import Reading, coverage
from service.science.refit import LEAST_RISE, refit
from service.science.sampling import LARGEST_LOT, LEAST_SENSITIVITY
from service.science.sampling_arrays import miss_probabilities
from service.science.solutions import dilution_result_mg_per_l, stock_volume_ml
from service.science.thermal import Development, share_hatched
from tests.science.logs import START, day


@pytest.mark.parametrize(
    ("amount", "unit"),
    [
        (Amount(Decimal(1000), "mL"), "L"),
        (Amount(Decimal(1000), "mg"), "g"),
        (Amount(Decimal("1500"), "mg"), "g"),
    ],
)
def test_a_whole_unit_is_shown_in_it(amount: Amount, unit: str) -> None:
    assert present(amount, "si").unit == unit


def test_a_dropper_counts_single_drops_and_never_has_to_be_filled_again() -> None:
    bottle = dropper(Decimal("0.03"))
    assert (bottle.name, bottle.step, bottle.capacity) == ("dropper", Decimal(1), None)
    syringe = Device("syringe", "volume", "mL", Decimal("0.05"), capacity=Decimal(1))
    # 33 drops are 0.99 mL to the point; the syringe would measure 1 mL.
    assert best_device(0.99, "volume", [syringe, bottle]) is bottle


def test_half_a_mark_is_rounded_up() -> None:
    syringe = Device("syringe", "volume", "mL", Decimal("0.05"), capacity=Decimal(1))
    assert measurable(0.125, syringe).steps == 3


def test_when_no_device_is_good_the_smallest_error_counts_and_not_the_fills() -> None:
    # 10.9 g: 11 in eleven fills (0.9 % would be good), so 10.7 g: 11 is 2.8 % off, 12 in one fill 12 % off.
    small = Device("small", "mass", "g", Decimal(1), capacity=Decimal(1))
    large = Device("large", "mass", "g", Decimal(2), capacity=Decimal(100))
    assert best_device(10.7, "mass", [small, large]) is small


@pytest.mark.parametrize("count_total", range(1, 60))
def test_none_seen_leaves_a_lower_limit_of_exactly_zero(count_total: int) -> None:
    assert wilson_interval(0, count_total).low == 0.0


def test_no_interval_is_certain() -> None:
    with pytest.raises(OutOfDomain, match="confidence"):
        exact_interval(3, 20, 1.0)


def test_the_difference_of_two_shares_keeps_the_confidence_asked_for() -> None:
    # Outside: statsmodels, Newcombe's hybrid score interval.
    expected = confint_proportions_2indep(56, 70, 48, 80, method="newcomb", alpha=0.1)
    found = share_difference(56, 70, 48, 80, 0.9)
    assert (found.low, found.high) == pytest.approx(expected, rel=1e-9)


def test_one_unit_is_worth_one() -> None:
    assert effective_sample_size(1, 1, 0.3) == 1


def test_a_share_to_be_told_apart_is_at_most_one() -> None:
    with pytest.raises(OutOfDomain, match="second_share"):
        units_per_arm(0.5, 1.5, 0.95, 0.8)


@pytest.mark.parametrize("confidence", [0.5, 0.95])
@pytest.mark.parametrize(("first", "second"), [(1, 1), (1, 5), (20, 3)])
def test_where_all_died_in_both_the_score_limits_have_a_closed_form(
    first: int, second: int, confidence: float
) -> None:
    # By hand: at a ratio r below 1 the likeliest shares are r and 1, so z² = n (1 - r) / r; above 1 by turns.
    square = two_sided_factor(confidence) ** 2
    found = risk_ratio(first, first, second, second, confidence)
    assert (found.low, found.high) == pytest.approx((first / (first + square), (second + square) / second))


def test_equal_shares_give_limits_on_both_sides_of_one() -> None:
    found = risk_ratio(5, 20, 5, 20, 0.5)
    assert found.low < 1 < found.high


@pytest.mark.parametrize("units", [1, 2, 3, 7, 1000])
def test_next_to_no_confidence_closes_the_limits_on_the_estimate(units: int) -> None:
    found = risk_ratio(units, units, units, units, LEAST_CONFIDENCE)
    assert (found.low, found.high) == pytest.approx((1, 1))


def test_a_log_from_before_says_nothing_of_the_days_after() -> None:
    before = [Reading(day(-3 + hour / 24), 21) for hour in range(12)]
    assert coverage(before, START, day(1)).credited_share == 0.0


def test_a_reading_a_second_in_parts_the_gap() -> None:
    second = timedelta(seconds=1)
    assert coverage([Reading(START + second, 21)], START, START + 2 * second).longest_gap_h == pytest.approx(
        1 / 3600
    )


def test_spells_of_half_credit_that_meet_become_one() -> None:
    hour = timedelta(hours=1)
    spells = [(START, START + hour), (START + hour, START + 2 * hour)]
    later = [(START + 4 * hour, START + 6 * hour), (START + 5 * hour, START + 5.5 * hour)]
    assert half_borders([*spells, *later], START) == [0, 7200, 14400, 21600]


def test_a_spell_without_length_is_none() -> None:
    assert half_borders([(START, START)], START) == []


def test_a_half_hatched_lot_has_reached_its_median_however_small() -> None:
    quick = Development("quick", 9, 1, 10, 25, None, 28, 34)
    assert share_hatched(1.0, quick) == pytest.approx(0.5)


def test_a_pest_may_be_quickest_at_the_most_it_stands() -> None:
    assert Development("plateau", 9, 136, 8.5, 25, None, 34, 34).optimum_c == 34


@pytest.mark.parametrize(
    "reached",
    [
        lambda pest: latest_reached_at([], START, 1.0, pest, forecast_c=10, forecast_from=START),
        lambda pest: hatched_out_at([], START, 1.0, [pest], forecast_c=10, forecast_from=START),
        lambda pest: visible_at([], START, pest, forecast_c=10, forecast_from=START),
    ],
)
def test_nothing_is_foretold_beyond_400_days(reached: Callable[[Development], object]) -> None:
    # One degree above the threshold a day gives one degree-day.
    assert reached(Development("slow", 9, 399.5, 16, 25, None, 28, 34)) is not None
    assert reached(Development("slower", 9, 400.5, 16, 25, None, 28, 34)) is None


def test_what_is_needed_may_be_all_the_log_gives() -> None:
    # Sums of eighths, so that nothing is rounded; what the search forgives is added to the need.
    assert hours_until([1.0, 2.0, 3.0], [0.0], [3.0]) == pytest.approx([3.0])


def test_a_stock_may_be_used_as_it_is() -> None:
    assert stock_volume_ml(5000, 2, 5) == pytest.approx(2000)
    assert dilution_result_mg_per_l(5, 2000, 2) == pytest.approx(5000)


def test_a_single_look_at_a_large_lot_misses_what_it_does_not_find() -> None:
    assert beta_binomial_miss(Decimal("0.1"), 1, 1.0, 0.2) == pytest.approx(0.9)


def test_no_look_finds_more_than_all() -> None:
    with pytest.raises(OutOfDomain, match="sensitivity"):
        upper_share(60, Decimal("0.95"), 1.5)


def test_the_largest_lot_and_the_weakest_look_are_still_computed() -> None:
    assert miss_probabilities([LARGEST_LOT], [1], [1], [LEAST_SENSITIVITY]) == pytest.approx([1.0])


@pytest.mark.parametrize(("rise", "kept"), [(10, True), (0.5, False), (0.75, False)])
def test_only_a_rise_above_rounding_is_a_rise(rise: float, kept: bool) -> None:
    quicker = 10 / (1 + rise * LEAST_RISE)
    if kept:
        assert refit([(10, 10.0), (30, quicker)]).thermal_constant_dd > 0
    else:
        with pytest.raises(OutOfDomain, match="no sooner"):
            refit([(10, 10.0), (30, quicker)])


def shares(median: float, hatched: list[float], growth: float = 40) -> np.ndarray:
    """The unseen shares of one pest after looks at these degree-days."""
    seen = np.array(hatched)
    return unseen_shares(
        median, seen, seen - growth, np.full((len(hatched), 3), 0.4), hidden_young=0.05, hidden_grown=0.01
    )


def test_lots_in_one_array_are_judged_each_for_itself() -> None:
    rows = np.array([[60.0, 150.0, 260.0], [300.0, 310.0, 900.0]])
    misses = np.full((2, 3, 3), 0.4)
    together = unseen_shares(
        np.array([136.0, 126.0]), rows, rows - 40, misses, hidden_young=0.05, hidden_grown=0.01
    )
    assert together == pytest.approx(np.array([shares(136, list(rows[0])), shares(126, list(rows[1]))]))


def test_a_hopeless_lot_does_not_drown_a_good_one_beside_it() -> None:
    found = probability_of_freedom([[4000.0], [0.2]], np.full((2, 1, 41), 0.5))
    assert found == pytest.approx([0.0, np.exp(-0.1)])


def test_the_scale_of_development_does_not_matter() -> None:
    # Below one degree-day too: only how far along the median is counts.
    small = shares(0.136, [0.06, 0.15, 0.26], growth=0.04)
    assert small == pytest.approx(shares(136, [60, 150, 260]))
