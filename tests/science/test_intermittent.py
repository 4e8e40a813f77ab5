"""Forecasts of demand that is mostly zero."""

from collections.abc import Callable

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.science.domain import OutOfDomain
from service.science.intermittent import (
    Smoothed,
    croston,
    shale_boylan_johnston,
    smoothed,
    syntetos_boylan,
    teunter_syntetos_babai,
)

USED = [0, 0, 5, 0, 0, 0, 4, 0, 3, 0]
PERIODS = st.lists(st.one_of(st.just(0.0), st.floats(0.1, 100)), max_size=40)


def test_size_and_interval_by_hand() -> None:
    # Sizes 5, 4, 3 and intervals 3, 4, 2 with 0.2: 5 - 0.2 - 0.36, 3 + 0.2 - 0.24.
    found = smoothed(USED, 0.2)
    assert (found.size, found.interval, found.alpha) == pytest.approx((4.44, 2.96, 0.2))
    assert croston(found) == pytest.approx(1.5)
    assert syntetos_boylan(found) == pytest.approx(1.5 * 0.9)
    assert shale_boylan_johnston(found) == pytest.approx(1.5 * (1 - 0.2 / 1.8))


def test_full_smoothing_takes_the_last() -> None:
    assert smoothed(USED, 1.0) == Smoothed(3, 2, 1.0)


def test_what_sinks_while_nothing_is_used_by_hand() -> None:
    # Chance 1/3 at the first demand, then a fifth of the way to 0 or 1 in each period; size as above.
    chance = 1 / 3
    for used in (0, 0, 0, 1, 0, 1, 0):
        chance += 0.2 * (used - chance)
    assert teunter_syntetos_babai(USED, 0.2, 0.2) == pytest.approx(4.44 * chance)
    assert teunter_syntetos_babai(USED, 1.0, 0.2) == pytest.approx(3 * chance)
    assert teunter_syntetos_babai([*USED, 0, 0], 0.2, 0.2) == pytest.approx(4.44 * chance * 0.64)


@given(PERIODS, st.floats(0.01, 1), st.floats(0.01, 1))
def test_forecasts_stay_within_what_was_seen(per_period: list[float], alpha: float, beta: float) -> None:
    demands = [used for used in per_period if used > 0]
    assume(len(demands) >= 2)
    found = smoothed(per_period, alpha)
    assert min(demands) * (1 - 1e-9) <= found.size <= max(demands) * (1 + 1e-9)
    assert 1 <= found.interval + 1e-9 <= len(per_period) + 1
    assert shale_boylan_johnston(found) <= syntetos_boylan(found) <= croston(found)
    forecast = teunter_syntetos_babai(per_period, alpha, beta)
    assert 0 <= forecast <= max(demands) * (1 + 1e-9)
    assert teunter_syntetos_babai([*per_period, 0.0], alpha, beta) <= forecast
    assert croston(smoothed([*per_period, 0.0], alpha)) == croston(found)


def test_steady_demand_is_its_own_forecast() -> None:
    steady = [7.0] * 12
    assert croston(smoothed(steady, 0.1)) == 7
    assert teunter_syntetos_babai(steady, 0.1, 0.1) == 7


@pytest.mark.parametrize(
    ("parameter", "refused"),
    [
        ("alpha", lambda: smoothed(USED, 0)),
        ("alpha", lambda: smoothed(USED, 1.01)),
        ("alpha", lambda: teunter_syntetos_babai(USED, 0, 0.1)),
        ("beta", lambda: teunter_syntetos_babai(USED, 0.1, 0)),
        ("per_period", lambda: smoothed([], 0.1)),
        ("per_period", lambda: smoothed([0, 0, 1, 0], 0.1)),
        ("per_period", lambda: smoothed([1, -1, 1], 0.1)),
        ("per_period", lambda: teunter_syntetos_babai([0, 1], 0.1, 0.1)),
    ],
)
def test_what_makes_no_forecast_is_refused(parameter: str, refused: Callable[[], object]) -> None:
    with pytest.raises(OutOfDomain) as refusal:
        refused()
    assert refusal.value.parameter == parameter
