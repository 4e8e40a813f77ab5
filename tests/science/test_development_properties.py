"""What holds of hatching dates and degree-days for every log."""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.development import Reading, degree_days, latest_reached_at, reached_at
from tests.science.logs import POND, START, day, days_after

LOGS = st.lists(st.tuples(st.floats(0.1, 40), st.floats(0, 40)), min_size=1, max_size=30)


def as_log(steps: list[tuple[float, float]]) -> list[Reading]:
    """Readings after uneven hours."""
    hours, log = 0.0, []
    for after, celsius in steps:
        log.append(Reading(day(hours / 24), celsius))
        hours += after
    return log


@given(LOGS, st.floats(0, 20), st.floats(0, 20))
def test_degree_days_add_up_over_spans(steps: list[tuple[float, float]], first: float, second: float) -> None:
    log = as_log(steps)
    whole = degree_days(log, START, day(first + second), POND)
    parts = degree_days(log, START, day(first), POND) + degree_days(
        log, day(first), day(first + second), POND
    )
    assert parts == pytest.approx(whole, abs=1e-6)


@given(LOGS, st.floats(0.5, 60), st.floats(5, 33))
def test_at_the_moment_reached_the_sum_is_what_was_needed(
    steps: list[tuple[float, float]], needed: float, forecast_c: float
) -> None:
    log = as_log(steps)
    reached = reached_at(log, START, needed, POND)
    if reached is None:
        assert degree_days(log, START, day(400), POND) < needed
    else:
        assert degree_days(log, START, reached, POND) == pytest.approx(needed, abs=1e-6)
        assert reached_at(log, START, needed, POND, forecast_c=forecast_c) == reached


@given(st.floats(9.6, 27), st.floats(0.1, 1.0))
def test_warmer_water_below_the_optimum_never_hatches_later(celsius: float, warmer: float) -> None:
    cool = latest_reached_at([], START, 1.5, POND, forecast_c=celsius, horizon_days=9999)
    warm = latest_reached_at([], START, 1.5, POND, forecast_c=celsius + warmer, horizon_days=9999)
    assert days_after(warm) <= days_after(cool)


@given(st.lists(st.tuples(st.floats(0.1, 30), st.floats(0, 27)), min_size=1, max_size=30), st.floats(0, 1))
def test_a_log_that_is_warmer_throughout_never_brings_a_later_date(
    steps: list[tuple[float, float]], warmer: float
) -> None:
    cool, warm = (
        reached_at(as_log([(after, celsius + more) for after, celsius in steps]), START, 20, POND)
        for more in (0, warmer)
    )
    assert cool is None or (warm is not None and warm <= cool + timedelta(milliseconds=1))


@given(
    st.lists(st.floats(0.1, 40), min_size=2, max_size=30), st.floats(9.5, 40), st.floats(0.1, 60), st.data()
)
def test_less_evidence_never_gives_an_earlier_date(
    steps: list[float], celsius: float, needed: float, data: st.DataObject
) -> None:
    log = as_log([(after, celsius) for after in steps])
    lost = data.draw(st.integers(0, len(log) - 1))
    fewer = [found for number, found in enumerate(log) if number != lost]
    with_all, without = (reached_at(found, START, needed, POND) for found in (log, fewer))
    assert without is None or (with_all is not None and with_all <= without + timedelta(milliseconds=1))


@given(LOGS, st.floats(0, 10), st.floats(0, 10))
def test_half_credit_is_at_least_half_and_never_more_than_all(
    steps: list[tuple[float, float]], begins: float, lasts: float
) -> None:
    log = as_log(steps)
    whole = degree_days(log, START, day(30), POND)
    halved = degree_days(log, START, day(30), POND, half_credit=[(day(begins), day(begins + lasts))])
    assert whole / 2 - 1e-9 <= halved <= whole + 1e-9
