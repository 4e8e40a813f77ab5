"""From the clock to the day of release, against the worked examples of the degree-day model.

Figures of the pond snail: 16 days at 20 °C (Arambašić et al. 2013), threshold 9 °C from memory. Days are
the closed form K x F / (T - T0); hourly logs.
"""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from service.quarantine.rules import Clock
from service.quarantine.rules_looks import LookPlan
from service.quarantine.rules_release import Awaited, Born, Log, Projection, Wait, project
from service.science.development import (
    PLANARIAN_VISIBILITY,
    SNAIL_VISIBILITY,
    Development,
    Reading,
)

START = datetime(2026, 3, 2, 9, tzinfo=UTC)
POND = Development("pond", 9.0, 176.0, 16.0, 20.0, None, 28.0, 34.0)
POND_ENVELOPE = Development("pond", 9.0, 176.0, 16.0, 20.0, (5.0, 9.5), 28.0, 34.0)
PLANARIAN = Development("planarian", 2.0, 318.0, 19.9, 18.0, None, 24.0, 30.0)
SNAIL = Awaited("pond_snail", POND, SNAIL_VISIBILITY)
WORM = Awaited("planarian", PLANARIAN, PLANARIAN_VISIBILITY)
LOOKS = LookPlan(60, Decimal("0.05"), Decimal("0.95"), 0.6, False, 2, timedelta(days=3), timedelta(days=14))


def day(days: float) -> datetime:
    return START + timedelta(days=days)


def wait(*awaited: Awaited, factor: float = 1.5, floor: int = 14, soaks: object = ()) -> Wait:
    return Wait(awaited, factor, timedelta(days=floor), LOOKS, 0.9, 72, soaks)  # type: ignore[arg-type]  # a table


def hourly(days: float, celsius: float, first: float = 0) -> list[Reading]:
    return [Reading(day(first) + timedelta(hours=hour), celsius) for hour in range(int(days * 24) + 1)]


def projected(
    waited: Wait,
    log: Log,
    *,
    now: float,
    looks: tuple[float, ...] = (),
    repacked: float | None = None,
) -> Projection:
    repacked_at = None if repacked is None else day(repacked)
    counted = [day(look) for look in looks]
    clock = Clock(day(0), "counted", treated=True)
    return project(clock, waited, log, counted, repacked_at=repacked_at, now=day(now))


def days_of(moment: datetime | None) -> float:
    assert moment is not None
    return (moment - START) / timedelta(days=1)


def test_hatch_out_and_visibility_at_a_constant_temperature() -> None:
    found = projected(wait(SNAIL), Log(hourly(50, 21.1), 21.1), now=40, looks=(34, 37))
    assert days_of(found.hatched_out_at) == pytest.approx(21.818, abs=1e-3)  # 264 / 12.1
    assert days_of(found.visible_at) == pytest.approx(21.818 + 111 / 10.1, abs=1e-3)
    assert found.floor_at == day(14)
    assert found.release_at == day(37)
    assert found.looks_made
    assert found.decidable(day(40))
    assert not found.decidable(day(36))


def test_a_week_below_the_threshold_makes_it_a_week_later() -> None:
    log = hourly(7, 21.1) + hourly(7, 8.0, 7) + hourly(40, 21.1, 14)
    found = projected(wait(SNAIL), Log(log, None), now=50)
    assert days_of(found.hatched_out_at) == pytest.approx(
        28.818, abs=0.1
    )  # the hours of passing from one to the other


def test_the_forecast_stands_in_for_what_is_to_come_but_never_for_what_was_not_measured() -> None:
    at_once = projected(wait(SNAIL), Log([], 21.1), now=0)
    unmeasured = projected(wait(SNAIL), Log([], 21.1), now=5)
    assert days_of(at_once.hatched_out_at) == pytest.approx(21.818, abs=1e-3)
    assert days_of(unmeasured.hatched_out_at) == pytest.approx(26.818, abs=1e-3)


def test_the_latest_pest_decides() -> None:
    found = projected(wait(SNAIL, WORM), Log(hourly(60, 21.1), None), now=55)
    assert days_of(found.hatched_out_at) == pytest.approx(24.974, abs=1e-2)  # 477 / 19.1
    assert days_of(found.visible_at) == pytest.approx(
        21.818 + 111 / 10.1, abs=1e-2
    )  # the snail, not 24.97 + 3


def test_the_safer_end_of_the_threshold_decides() -> None:
    envelope = Awaited("pond_snail", POND_ENVELOPE, SNAIL_VISIBILITY)
    found = projected(wait(envelope), Log([], 15.0), now=0)
    assert days_of(found.hatched_out_at) == pytest.approx(45.82, abs=1e-2)  # T0 9.5: 252 / 5.5


def test_a_soak_counts_half() -> None:
    soak = ((day(0), day(10)),)
    found = projected(wait(SNAIL, soaks=soak), Log([], 21.1), now=0)
    assert days_of(found.hatched_out_at) == pytest.approx(26.818, abs=1e-3)  # 10 days give 5


def test_the_floor_in_days_holds_whatever_the_temperature() -> None:
    found = projected(wait(floor=35), Log(hourly(40, 24), None), now=38, looks=(5, 9, 30))
    assert (found.hatched_out_at, found.visible_at) == (day(0), day(0))  # no pest whose eggs are waited for
    assert found.release_at == day(35)


def test_the_looks_to_come_are_part_of_the_release() -> None:
    found = projected(wait(SNAIL), Log(hourly(40, 21.1), 21.1), now=40)
    assert found.release_at == day(43)
    assert days_of(found.next_look_at) == pytest.approx(21.818 + 111 / 10.1 - 3, abs=1e-3)
    assert not found.looks_made


def test_after_repacking_a_look_is_owed_again() -> None:
    log = Log(hourly(50, 21.1), 21.1)
    assert not projected(wait(SNAIL), log, now=41, looks=(34, 37), repacked=40).looks_made
    assert projected(wait(SNAIL), log, now=41, looks=(34, 37, 40.5), repacked=40).looks_made


def test_looks_before_the_clock_started_do_not_count() -> None:
    assert projected(wait(SNAIL), Log(hourly(50, 21.1), None), now=40, looks=(-1, 37)).release_at == day(40)


def test_without_a_clock_there_is_no_day_and_the_reason_is_the_clocks() -> None:
    clock = Clock(None, "Two looks are owed.", next_look_at=day(3))
    found = project(clock, wait(SNAIL), Log([], 21.1), [], repacked_at=None, now=day(1))
    assert found == Projection(None, next_look_at=day(3), reasons=("Two looks are owed.",))
    assert not found.decidable(day(100))


@pytest.mark.parametrize(
    ("forecast", "words"),
    [(None, "put the lot into a tub"), (8.0, "raise the temperature"), (10.0, "raise the temperature")],
)
def test_what_never_hatches_or_never_grows_has_no_day(forecast: float | None, words: str) -> None:
    found = projected(wait(SNAIL), Log([], forecast), now=0)
    assert found.release_at is None
    assert words in found.reasons[0]


def test_too_little_log_is_said_and_keeps_the_lot_from_a_decision() -> None:
    log = hourly(10, 24) + hourly(40, 24, 14)
    found = projected(wait(SNAIL), Log(log, None), now=50, looks=(45, 49))
    assert found.longest_gap_h == pytest.approx(96)
    assert found.looks_made
    assert not found.decidable(day(50))
    assert any("96 hours" in reason for reason in found.reasons)
    sparse = projected(wait(SNAIL), Log(hourly(1, 24), 24), now=2)
    assert any("90% is needed" in reason for reason in sparse.reasons)


def test_what_was_not_measured_after_all_could_be_seen_does_not_matter() -> None:
    found = projected(wait(SNAIL), Log(hourly(40, 24), None), now=60, looks=(41, 59))
    assert found.credited_share == pytest.approx(1)
    assert found.decidable(day(60))


@pytest.mark.parametrize(
    ("looks", "now", "made", "release", "next_look"),
    [
        ((0,), 13.9, True, 0, None),
        ((0,), 14, False, 14, 14),  # a look speaks for two weeks
        ((0, 10), 23.9, True, 0, None),
        ((-2,), 5, True, 0, None),  # before the seal: the seal itself is what counts
    ],
)
def test_sealed_cups_wait_for_nothing_but_a_look_that_is_not_too_old(
    *, looks: tuple[float, ...], now: float, made: bool, release: float, next_look: float | None
) -> None:
    clock = Clock(day(0), "sealed", treated=True, sealed=True)
    counted = [day(look) for look in looks]
    found = project(clock, wait(SNAIL), Log([], None), counted, repacked_at=None, now=day(now))
    assert (found.sealed, found.looks_made, found.release_at) == (True, made, day(release))
    assert found.next_look_at == (None if next_look is None else day(next_look))
    assert found.decidable(day(now)) is made


def test_live_young_are_waited_for_until_they_can_be_seen_and_baited_for_by_night() -> None:
    """111 degree-days above 11 °C: at 22 °C 10.1 days, by hand (111 / 11)."""
    bearing = replace(wait(floor=0), born=[Born("trumpet_snail", SNAIL_VISIBILITY)], night_baits=3)
    clock, log = Clock(day(0), "counted", treated=True), Log(hourly(30, 22), 22)
    looks = [day(12), day(16)]
    owing = project(clock, bearing, log, looks, repacked_at=None, now=day(17), nights=[day(12)])
    assert owing.hatched_out_at == day(0)
    assert owing.visible_at is not None
    assert abs(owing.visible_at - day(111 / 11)) < timedelta(hours=1)
    assert (owing.looks_made, owing.nights_made, owing.decidable(day(17))) == (False, False, False)
    nights = [day(12), day(13), day(14)]
    made = project(clock, bearing, log, looks, repacked_at=None, now=day(17), nights=nights)
    assert (made.looks_made, made.nights_made, made.release_at) == (True, True, day(16))
