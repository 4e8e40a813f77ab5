"""Hatch curves, thresholds refitted, and eyes tested."""

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

import pytest

from service.science.development import Development, share_hatched
from service.trials.rules_hatch import (
    HatchPoint,
    eyes,
    hatch_points,
    is_over,
)
from service.trials.rules_known import Known

POND = Development("pond_snail", 9.0, 176.0, 16.0, 20.0, None, 28.0, 34.0)
START = datetime(2026, 3, 2, tzinfo=UTC)


def masses(label: str, clear: int = 0, hatched: int = 0) -> Mapping[str, Any]:
    return {
        "label": label,
        "pest": "pond_snail",
        "stage": "egg",
        "clear": clear,
        "cloudy": 0,
        "white": 0,
        "hatched": hatched,
    }


def known(*looks: tuple[int, Mapping[str, Any]]) -> Known:
    found = Known()
    for day, count in looks:
        found.add(day, {"counts": [count], "conditions": []})
    return found


def test_masses_hatched_stand_beside_what_the_warmth_makes_one_expect() -> None:
    seen = known(
        (0, masses("u1", clear=4)),
        (0, masses("u2", clear=2)),
        (14, masses("u1", 1, 3)),
        (28, masses("u2", 0, 2)),
    )
    points = hatch_points(
        seen, [["u1"], ["u2"]], "pond_snail", POND, [lambda day: 12.0 * day, lambda day: 10.0 * day]
    )
    assert [(p.day, p.hatched, p.masses) for p in points] == [(0, 0, 6), (14, 3, 6), (28, 5, 6)]
    assert points[1].fresh == pytest.approx((4 * share_hatched(168, POND) + 2 * share_hatched(140, POND)) / 6)
    assert points[1].any_age is not None
    assert points[1].fresh is not None
    assert points[1].any_age > points[1].fresh
    assert is_over(points) is True
    assert is_over(points[:2]) is False


def test_without_a_log_or_a_figure_nothing_is_expected() -> None:
    seen = known((0, masses("u1", clear=4)), (0, masses("u2", clear=4)))
    points = hatch_points(
        seen, [["u1"], ["u2"]], "pond_snail", POND, [lambda day: 12.0 * day, lambda _: None]
    )
    assert points == [HatchPoint(0, 0, 8, None, None)]
    assert is_over(points) is None
    assert (
        hatch_points(seen, [["u1"], ["u2"]], "pond_snail", None, [lambda _: 1.0, lambda _: 1.0])[0].fresh
        is None
    )
    assert is_over([]) is None


def test_an_arm_without_masses_has_no_curve() -> None:
    assert hatch_points(known((0, masses("u1"))), [["u1"]], "pond_snail", POND, [lambda _: 1.0]) == []
    assert hatch_points(Known(), [["u1"]], "pond_snail", POND, [lambda _: 1.0]) == []


def test_each_observer_s_eye_is_judged_over_all_its_tests() -> None:
    [mine, yours] = eyes([("Ada", 10, 8), ("Bo", 5, 5), ("Ada", 10, 9)])
    assert (mine.observer, mine.hidden, mine.found, mine.sensitivity.estimate) == ("Ada", 20, 17, 0.85)
    assert yours.sensitivity.low == pytest.approx(0.025 ** (1 / 5))
