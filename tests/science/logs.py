"""Temperature logs for tests: hourly readings of constant weeks and cycles, from one fixed moment on."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from hypothesis import strategies as st

from service.science.development import Development, Reading

START = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)

# Thresholds, constants, anchors and limits as shipped: pulmonates from Physella, Biomphalaria and Lymnaea
# rearings (grade partly unverified), planarian from Dugesia relatives.
PHYSID = Development("physid", 9.0, 136.0, 8.5, 25.0, (5.0, 10.0), 28.0, 34.0)
RAMSHORN = Development("ramshorn", 11.0, 126.0, 9.0, 25.0, (10.0, 14.0), 28.0, 34.0)
POND = Development("pond", 9.0, 176.0, 16.0, 20.0, (5.0, 9.5), 28.0, 34.0)
PLANARIAN = Development("planarian", 2.0, 318.0, 19.9, 18.0, (1.0, 7.0), 24.0, 30.0)

# Degree-days until the last pond snails have hatched.
NEEDED = 1.5 * POND.thermal_constant_dd


def day(number: float) -> datetime:
    """So many days after the start."""
    return START + timedelta(days=number)


def days_after(moment: datetime | None, start: datetime = START) -> float:
    """The days from the start to a moment that was reached."""
    assert moment is not None
    return (moment - start) / timedelta(days=1)


def hourly(days: float, celsius_on: Callable[[float], float]) -> list[Reading]:
    """A reading every hour, by the day."""
    return [Reading(day(hour / 24), celsius_on(hour / 24)) for hour in range(round(days * 24) + 1)]


def steady(days: float, celsius: float = 21.1) -> list[Reading]:
    """A tub whose thermostat works."""
    return hourly(days, lambda _: celsius)


def with_week_at(celsius: float, days: float = 40) -> list[Reading]:
    """21.1 °C, but for the second week."""
    return hourly(days, lambda on: celsius if 7 <= on < 14 else 21.1)


def tenths(low: int, high: int) -> st.SearchStrategy[float]:
    """Temperatures as a probe gives them, often right on a bend of the rate."""
    return st.integers(low * 10, high * 10).map(lambda number: number / 10)
