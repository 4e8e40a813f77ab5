"""What the rooms above read of tubs: the log along a lot's way, the forecast, whose water is one."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy.orm import Session

from service.core.db import Database
from service.tubs import queries
from service.tubs.models import Measurement, TemperatureReading
from tests.make_lots import tub

NOW = datetime(2026, 3, 20, 9, tzinfo=UTC)


@dataclass(frozen=True)
class InTub:
    tub_id: str
    entered_at: datetime
    left_at: datetime | None = None


def day(days: float) -> datetime:
    return NOW + timedelta(days=days)


def warmth(session: Session, tub_id: str, *readings: tuple[float, float], void: bool = False) -> None:
    session.add_all(
        TemperatureReading(
            tub_id=tub_id,
            at=day(days),
            celsius=celsius,
            entered={"value": celsius, "unit": "Cel"},
            recorded_at=NOW,
            by="tests",
            voided_at=NOW if void else None,
            void_reason="dry probe" if void else None,
        )
        for days, celsius in readings
    )
    session.flush()


@pytest.fixture
def two_tubs(database: Database) -> tuple[str, str]:
    return tub(database, "T1"), tub(database, "T2")


@pytest.fixture
def writing(database: Database) -> Iterator[Session]:
    with database.writer() as session:
        yield session


def test_readings_of_a_period_in_order_without_the_void_ones(
    writing: Session, two_tubs: tuple[str, str]
) -> None:
    first, second = two_tubs
    warmth(writing, first, (-1, 22), (-2, 21), (-4, 20), (1, 30))
    warmth(writing, first, (-1.5, 5), void=True)
    warmth(writing, second, (-1, 9))
    found = queries.readings(writing, first, day(-2), day(-1))
    assert [(reading.at, reading.celsius) for reading in found] == [(day(-2), 21), (day(-1), 22)]


def test_the_log_follows_a_lot_from_tub_to_tub(writing: Session, two_tubs: tuple[str, str]) -> None:
    first, second = two_tubs
    warmth(writing, first, (-6, 10), (-5, 21), (-3, 22), (-2, 11), (-1, 12))
    warmth(writing, second, (-4, 30), (-3, 25), (-2, 26), (-1, 27))
    stays = [InTub(second, day(-2)), InTub(first, day(-5), day(-2))]
    found = [(reading.at, reading.celsius) for reading in queries.temperature_log(writing, stays)]
    assert found == [(day(-5), 21), (day(-3), 22), (day(-2), 26), (day(-1), 27)]


def test_a_lot_in_no_tub_has_no_log(writing: Session) -> None:
    assert queries.temperature_log(writing, []) == []


def test_the_forecast_is_the_last_week_else_the_set_point_else_nothing(
    writing: Session, two_tubs: tuple[str, str]
) -> None:
    found = queries.tub_by_id(writing, two_tubs[0])
    assert queries.forecast_c(writing, found, NOW) is None
    found.set_point_c = 24
    warmth(writing, found.id, (-8, 10), (1, 40))
    assert queries.forecast_c(writing, found, NOW) == 24
    warmth(writing, found.id, (-7, 20), (0, 22))
    assert queries.forecast_c(writing, found, NOW) == 21


def test_measurements_of_a_substance_in_a_period(writing: Session, two_tubs: tuple[str, str]) -> None:
    for substance, days, value in (("copper", -1, 0.4), ("copper", -3, 0.1), ("ph", -1, 7.2)):
        facts = {"tub_id": two_tubs[0], "kit": "drop test", "kit_limit": 0.05, "by": "tests"}
        writing.add(Measurement(substance=substance, at=day(days), value=value, recorded_at=NOW, **facts))
    writing.flush()
    [found] = queries.measurements(writing, two_tubs[0], "copper", day(-2), NOW)
    assert (found.value, found.kit_limit) == (0.4, 0.05)
