"""The picture of a lot's quarantine: what happened and will happen, on one axis of time; geometry only."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

WIDTH, LEFT, RIGHT = 900.0, 62.0, 16.0
WARM, GROW, MARKS = (28.0, 150.0), (196.0, 130.0), (352.0, 78.0)  # top and height of the three lanes
HEIGHT = 462.0
MOST_POINTS = 300
STEPS_DAYS = (1, 2, 7, 14, 28, 56, 91)
FEWEST_TICKS = 10


@dataclass(frozen=True)
class Growth:
    """One pest: how far its eggs have come (0 nothing, 1 all hatched out), and when they hatch."""

    pest: str
    points: Sequence[tuple[datetime, float]]
    first_hatch: datetime | None
    hatched_out: datetime | None


@dataclass(frozen=True)
class Seen:
    """A look or a water change: `kind` is find, clean or water."""

    at: datetime
    kind: str
    label: str


@dataclass(frozen=True)
class Scene:
    """What is drawn."""

    start: datetime
    end: datetime
    now: datetime
    readings: Sequence[tuple[datetime, float]]
    growth: Sequence[Growth]
    seen: Sequence[Seen]
    release_at: datetime | None


@dataclass(frozen=True)
class Line:
    """A line of points as an SVG path, with where its name stands."""

    name: str
    path: str
    end_x: float
    end_y: float


@dataclass(frozen=True)
class Picture:
    """Everything with its place."""

    days: Sequence[tuple[float, datetime]]
    degrees: Sequence[tuple[float, float]]
    warm: str
    growth: Sequence[Line]
    bands: Sequence[tuple[str, float, float]]
    seen: Sequence[tuple[float, Seen]]
    now_x: float
    release_x: float | None


def draw(scene: Scene) -> Picture:
    """Place a scene; a scene without length is given a day."""
    end = max(scene.end, scene.start + timedelta(days=1))
    axis = _Axis(scene.start, end)
    low, high = _range([celsius for _, celsius in scene.readings])
    return Picture(
        days=[(axis.x(at), at) for at in _ticks(scene.start, end)],
        degrees=[(_y(WARM, at, low, high), at) for at in (low, (low + high) / 2, high)],
        warm=_path([(axis.x(at), _y(WARM, celsius, low, high)) for at, celsius in thinned(scene.readings)]),
        growth=[_grown(axis, one) for one in scene.growth if one.points],
        bands=[
            (one.pest, axis.x(one.first_hatch), axis.x(one.hatched_out))
            for one in scene.growth
            if one.first_hatch is not None and one.hatched_out is not None
        ],
        seen=[(axis.x(one.at), one) for one in scene.seen if scene.start <= one.at <= end],
        now_x=axis.x(scene.now),
        release_x=None if scene.release_at is None else axis.x(scene.release_at),
    )


def thinned(readings: Sequence[tuple[datetime, float]]) -> list[tuple[datetime, float]]:
    """At most as many points as the picture can show; of each stretch the lowest and the highest stay."""
    if len(readings) <= MOST_POINTS:
        return list(readings)
    width = -(-2 * len(readings) // MOST_POINTS)
    found: list[tuple[datetime, float]] = []
    for first in range(0, len(readings), width):
        part = readings[first : first + width]
        kept = {min(part, key=lambda one: one[1]), max(part, key=lambda one: one[1])}
        found += sorted(kept)
    return found


@dataclass(frozen=True)
class _Axis:
    start: datetime
    end: datetime

    def x(self, at: datetime) -> float:
        share = (at - self.start) / (self.end - self.start)
        return round(LEFT + min(1.0, max(0.0, share)) * (WIDTH - LEFT - RIGHT), 1)


def _range(celsius: Sequence[float]) -> tuple[float, float]:
    low, high = (min(celsius), max(celsius)) if celsius else (18.0, 26.0)
    return float(int(low) - 1), float(int(high) + 2)


def _ticks(start: datetime, end: datetime) -> list[datetime]:
    days = (end - start) / timedelta(days=1)
    step = next((step for step in STEPS_DAYS if days / step <= FEWEST_TICKS), STEPS_DAYS[-1])
    return [start + timedelta(days=n) for n in range(0, int(days) + 1, step)]


def _grown(axis: _Axis, one: Growth) -> Line:
    points = [(axis.x(at), _y(GROW, min(done, 1.0), 0.0, 1.0)) for at, done in one.points]
    return Line(one.pest, _path(points), *points[-1])


def _y(lane: tuple[float, float], value: float, low: float, high: float) -> float:
    top, height = lane
    return round(top + height * (1 - (value - low) / (high - low)), 1)


def _path(points: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:g} {y:g}" for x, y in points) if points else ""
