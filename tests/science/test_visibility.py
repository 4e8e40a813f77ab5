"""How long after hatching the young can be seen, against worked examples."""

import math
from datetime import timedelta

import pytest

from service.science.development import (
    PLANARIAN_VISIBILITY,
    SNAIL_VISIBILITY,
    VISIBILITY_DEGREE_DAYS,
    Development,
    reached_at,
    visible_at,
)
from tests.science.logs import PHYSID, POND, RAMSHORN, START, days_after, steady


@pytest.mark.parametrize(
    ("pest", "celsius", "whole_days"),
    [
        (PHYSID, 18, (39, 42)),
        (PHYSID, 21.1, (28, 31)),
        (PHYSID, 24, (23, 24)),
        (PHYSID, 26, (20, 21)),
        (RAMSHORN, 21.1, (30, 33)),
        (POND, 18, (46, 50)),
        (POND, 21.1, (33, 36)),
        (POND, 24, (27, 29)),
    ],
)
def test_whole_days_until_the_young_can_be_seen(
    pest: Development, celsius: float, whole_days: tuple[int, int]
) -> None:
    found = []
    for factor in (1.5, 1.7):
        hatched = reached_at([], START, factor * pest.thermal_constant_dd, pest, forecast_c=celsius)
        assert hatched is not None
        found.append(math.ceil(days_after(visible_at([], hatched, forecast_c=celsius))))
    assert tuple(found) == whole_days


@pytest.mark.parametrize(("celsius", "days"), [(15, 27.8), (18, 15.9), (21.1, 11.0), (24, 8.5), (26, 7.4)])
def test_young_snails_can_be_seen_after_111_degree_days(celsius: float, days: float) -> None:
    # 0.176 mm a day at 26 °C (growth of Biomphalaria glabrata) from 0.7 to 2 mm.
    assert SNAIL_VISIBILITY.thermal_constant_dd == VISIBILITY_DEGREE_DAYS
    assert days_after(visible_at([], START, forecast_c=celsius)) == pytest.approx(days, abs=0.06)
    assert days_after(visible_at(steady(40, celsius), START)) == pytest.approx(days, abs=0.06)


def test_young_planarians_are_seen_after_three_days_at_any_temperature() -> None:
    assert visible_at([], START, PLANARIAN_VISIBILITY) == START + timedelta(days=3)
