"""What use is to be expected, steady or now and then."""

import pytest

from service.ordering.rules_demand import NOTHING, Expected, enough_history, expected_use, lowest_before_order
from service.science.demand import DailyDemand

# Monthly demand of a lubricant, Hyndman & Athanasopoulos, Forecasting, 2nd ed., section 12.2.
LUBRICANT = [
    *(0, 2, 0, 1, 0, 11, 0, 0, 0, 0, 2, 0, 6, 3, 0, 0, 0, 0, 0, 7, 0, 0, 0, 0),
    *(0, 0, 0, 3, 1, 0, 0, 1, 0, 1, 0, 0),
]


@pytest.mark.parametrize(
    ("used", "enough"), [([], False), ([0, 5, 0], False), ([5, 5], True), ([0, 3, 0, 2], True)]
)
def test_two_uses_are_the_least_that_says_anything(used: list[int], enough: bool) -> None:
    assert enough_history(used) == enough
    assert (expected_use(used) == NOTHING) != enough


def test_use_on_nearly_every_day_is_steady() -> None:
    # 75 of 99 days are an interval of exactly 1.32: the cut-off of Syntetos, Boylan and Croston 2005.
    assert expected_use([10, 10, 10] * 25 + [0] * 24).use_size is None
    assert expected_use([10, 10, 10] * 25 + [0] * 25).use_size == 10


def test_use_now_and_then_is_expected_by_its_chance_and_its_size() -> None:
    # Teunter, Syntetos and Babai with both constants 0.1 give 0.8350 when smoothing begins with the first
    # period (computed by hand); ours begins with the first use.
    found = expected_use(LUBRICANT)
    assert found.demand.mean == pytest.approx(0.8350, rel=1e-3)
    assert found.use_size == pytest.approx(sum(LUBRICANT) / 11)


def test_what_is_no_longer_used_is_expected_less_and_less() -> None:
    assert expected_use([0, 5] * 10 + [0] * 60).demand.mean < 0.01


def test_single_uses_get_a_whole_number_of_uses_in_store() -> None:
    # Poisson with mean 2.8: 6 cover 95 %, 7 cover 99 % (cumulated 0.975589 and 0.991869; SciPy). Uses of 50,
    # 0.2 a day for 14 days, varying no more than Poisson's.
    uses = Expected(DailyDemand(0.2 * 50, (0.2 * 50**2) ** 0.5), 50.0)
    assert lowest_before_order(uses, 14, 0, 0.95) == 6 * 50
    assert lowest_before_order(uses, 14, 0, 0.99) == 7 * 50


def test_uses_that_come_together_need_more() -> None:
    # Mean 6 and variance 15: negative binomial with r = 4, p = 0.4, 95 % are covered by 13 (SciPy).
    uses = Expected(DailyDemand(6.0, 15**0.5), 1.0)
    assert lowest_before_order(uses, 1, 0, 0.95) == 13


def test_nothing_expected_needs_nothing_in_store() -> None:
    assert lowest_before_order(NOTHING, 7, 2, 0.95) == 0
