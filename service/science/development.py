"""Temperature-driven development: degree-days along a log, when eggs have hatched, when young can be seen."""

import math
from collections.abc import Sequence
from datetime import datetime, timedelta

from service.science.credit import Spell, credits_within, half_borders
from service.science.domain import OutOfDomain, positive
from service.science.reaching import Course
from service.science.readings import (
    Coverage,
    Reading,
    aware,
    coverage,
    seconds,
    spans,
)
from service.science.thermal import (
    Development,
    rate,
    share_hatched,
    share_hatched_of_any_age,
    single_sine_degree_days,
    variants,
)

__all__ = [
    "PLANARIAN_VISIBILITY",
    "SNAIL_VISIBILITY",
    "VISIBILITY_DEGREE_DAYS",
    "Coverage",
    "Development",
    "Reading",
    "coverage",
    "degree_days",
    "hatched_out_at",
    "latest_reached_at",
    "rate",
    "reached_at",
    "share_hatched",
    "share_hatched_of_any_age",
    "single_sine_degree_days",
    "variants",
    "visible_at",
]

# A hatchling of 0.7 mm grows to the 2 mm that a person sees; from growth of Biomphalaria at 26 °C, assumed to
# hold for all snails.
VISIBILITY_DEGREE_DAYS = 111.0
SNAIL_VISIBILITY = Development(
    code="snail_visibility",
    lower_threshold_c=11.0,
    thermal_constant_dd=VISIBILITY_DEGREE_DAYS,
    anchor_days=7.4,
    anchor_c=26.0,
    lower_threshold_range=None,
    optimum_c=28.0,
    maximum_c=34.0,
)
PLANARIAN_VISIBILITY = timedelta(days=3)  # born 3 mm long


def degree_days(
    readings: Sequence[Reading],
    start: datetime,
    end: datetime,
    development: Development,
    *,
    half_credit: Sequence[Spell] = (),
) -> float:
    """Degree-days between two moments as far as the readings speak for them (gap rule: `readings.spans`).

    Linear courses are integrated in closed form. In the spells of `half_credit` (chemical soaks) they count
    half. OutOfDomain when the end lies before the start.
    """
    aware("start", start)
    aware("end", end)
    if end < start:
        raise OutOfDomain("end", "The end lies before the start.")
    borders_s = half_borders(half_credit, start)
    found = credits_within(spans(readings, start), seconds(end, start), development, borders_s)
    return math.fsum(credit.degree_days for credit in found)


def reached_at(
    readings: Sequence[Reading],
    start: datetime,
    needed_dd: float,
    development: Development,
    *,
    half_credit: Sequence[Spell] = (),
    forecast_c: float | None = None,
    forecast_from: datetime | None = None,
    horizon_days: float = 400,
) -> datetime | None:
    """The moment at which the degree-days since `start` reach what is needed; None if not by the horizon.

    With `forecast_c` it goes on at that temperature after what the readings speak for, but not before
    `forecast_from`, so that a past that nobody measured is not credited.
    """
    course = Course.of(
        readings,
        start,
        half_credit=half_credit,
        forecast_c=forecast_c,
        forecast_from=forecast_from,
        horizon_days=horizon_days,
    )
    return course.reached_at(needed_dd, development)


def latest_reached_at(
    readings: Sequence[Reading],
    start: datetime,
    factor: float,
    development: Development,
    *,
    half_credit: Sequence[Spell] = (),
    forecast_c: float | None = None,
    forecast_from: datetime | None = None,
    horizon_days: float = 400,
) -> datetime | None:
    """The latest moment over all `variants` at which factor x K50 is reached; None if one never is."""
    positive("factor", factor)
    course = Course.of(
        readings,
        start,
        half_credit=half_credit,
        forecast_c=forecast_c,
        forecast_from=forecast_from,
        horizon_days=horizon_days,
    )
    return _latest(
        [course.reached_at(factor * each.thermal_constant_dd, each) for each in variants(development)]
    )


def hatched_out_at(
    readings: Sequence[Reading],
    start: datetime,
    factor: float,
    developments: Sequence[Development],
    *,
    half_credit: Sequence[Spell] = (),
    forecast_c: float | None = None,
    forecast_from: datetime | None = None,
    horizon_days: float = 400,
) -> datetime | None:
    """The latest over several pests that may be there; None if one is never reached.

    OutOfDomain when no pest is named.
    """
    if not developments:
        raise OutOfDomain("developments", "Name at least one pest whose eggs are waited for.")
    moments = [
        latest_reached_at(
            readings,
            start,
            factor,
            development,
            half_credit=half_credit,
            forecast_c=forecast_c,
            forecast_from=forecast_from,
            horizon_days=horizon_days,
        )
        for development in developments
    ]
    return _latest(moments)


def visible_at(
    readings: Sequence[Reading],
    hatched_at: datetime,
    visibility: Development | timedelta = SNAIL_VISIBILITY,
    *,
    half_credit: Sequence[Spell] = (),
    forecast_c: float | None = None,
    forecast_from: datetime | None = None,
    horizon_days: float = 400,
) -> datetime | None:
    """When what hatched at a moment can be seen: after a plain time, or growth in degree-days of its own."""
    if isinstance(visibility, timedelta):
        aware("hatched_at", hatched_at)
        return hatched_at + visibility
    return reached_at(
        readings,
        hatched_at,
        visibility.thermal_constant_dd,
        visibility,
        half_credit=half_credit,
        forecast_c=forecast_c,
        forecast_from=forecast_from,
        horizon_days=horizon_days,
    )


def _latest(moments: Sequence[datetime | None]) -> datetime | None:
    known = [moment for moment in moments if moment is not None]
    return max(known) if len(known) == len(moments) else None
