"""The arithmetic of a course that holds a dose.

Numbers by hand: C_after = (1 - f) C_before, dose = V max(0, T - C_after), first-order loss C exp(-k t).
"""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.treatments.courses import Level, before_change, changes_to_come, next_change, redose

START = datetime(2026, 3, 2, 9, tzinfo=UTC)
RHYTHM = {"every_days": [3, 4]}


def at(days: float) -> datetime:
    return START + timedelta(days=days)


def test_half_a_change_without_reading_counts_the_loss() -> None:
    before = before_change([Level(at(0), 0.5)], at(3.5), 0.15)
    assert before == pytest.approx(0.2958, rel=1e-3)
    change = redose(before, 0.5, 0.5)
    assert change.after_mg_per_l == pytest.approx(0.1479, rel=1e-3)
    assert 40 * change.add_mg_per_l == pytest.approx(14.08, rel=1e-3)
    assert change.needed


def test_a_full_change_leaves_what_clings() -> None:
    change = redose(0.35, 1.0, 0.5)
    assert change.after_mg_per_l == pytest.approx(0.007)
    assert 40 * change.add_mg_per_l == pytest.approx(19.72)


def test_above_the_target_nothing_is_dosed_and_more_water_is_to_go() -> None:
    change = redose(0.9, 1e-9, 0.5)
    assert not change.needed
    assert change.extra_change == pytest.approx(0.4444, rel=1e-3)


def test_the_last_level_counts() -> None:
    levels = [Level(at(2), 0.3), Level(at(0), 0.5), Level(at(2), 0.4), Level(at(9), 0.1)]
    assert before_change(levels, at(2), 0.15) == 0.4
    assert before_change(levels, at(-1), 0.15) == 0.0


def test_changes_come_in_the_rhythm() -> None:
    assert next_change(RHYTHM, 0, at(0)) == at(3)
    assert next_change(RHYTHM, 1, at(3)) == at(7)
    assert next_change(None, 1, at(3)) == at(7)
    assert changes_to_come(RHYTHM, 0, at(0), at(14)) == [at(3), at(7), at(10)]
    assert changes_to_come(RHYTHM, 0, at(0), at(3)) == []


@given(st.floats(0, 2), st.floats(0.01, 1), st.floats(0.05, 1))
def test_a_redose_never_passes_the_target(before: float, fraction: float, target: float) -> None:
    change = redose(before, fraction, target)
    assert change.add_mg_per_l >= 0
    assert change.after_mg_per_l + change.add_mg_per_l == pytest.approx(max(target, change.after_mg_per_l))
