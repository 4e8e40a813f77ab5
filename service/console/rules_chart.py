"""Small pictures of numbers, drawn by the server: curves over days, bars, and ranges; geometry only."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

WIDTH, HEIGHT = 640.0, 240.0
LEFT, RIGHT, TOP, BOTTOM = 48.0, 16.0, 14.0, 206.0
STEPS_DAYS = (1, 2, 5, 7, 14, 30)
FEWEST_TICKS = 10
BAR_LEFT, BAR_WIDTH, ROW = 190.0, 330.0, 30.0
Point = tuple[float, float]


@dataclass(frozen=True)
class Curve:
    """A line by its name."""

    name: str
    path: str


@dataclass(frozen=True)
class Curves:
    """Lines over days, each value a share from 0 to 1."""

    days: Sequence[tuple[float, int]]
    shares: Sequence[tuple[float, float]]
    lines: Sequence[Curve]


@dataclass(frozen=True)
class Bar:
    """A row of a picture: where it lies, how long it is, its low and high limit if they are known."""

    label: str
    value: float
    y: float
    x: float
    low: float | None = None
    high: float | None = None


def curves(lines: Mapping[str, Sequence[Point]]) -> Curves | None:
    """Lines of (day, share); None when no line has two points to join."""
    known = {name: points for name, points in lines.items() if len(points) > 1}
    if not known:
        return None
    last = max(1.0, *(day for points in known.values() for day, _ in points))
    step = next((step for step in STEPS_DAYS if last / step <= FEWEST_TICKS), STEPS_DAYS[-1])
    return Curves(
        days=[(_x(day, last), day) for day in range(0, int(last) + 1, step)],
        shares=[(_y(share), share) for share in (0.0, 0.5, 1.0)],
        lines=[Curve(name, _path(points, last)) for name, points in known.items()],
    )


def stairs(steps: Sequence[Point], last: float) -> list[Point]:
    """Kaplan and Meier's stairs: 1 from day 0, down at each (day, share) of a death, level to the end."""
    points, alive = [(0.0, 1.0)], 1.0
    for day, share in steps:
        points += [(day, alive), (day, share)]
        alive = share
    return [*points, (last, alive)]


def bars(rows: Sequence[tuple[str, float]]) -> list[Bar]:
    """Bars side by side, the longest as long as the picture; none when nothing is above zero."""
    most = max((value for _, value in rows), default=0.0)
    if most <= 0:
        return []
    return [Bar(label, value, ROW * n, _long(max(0.0, value), most)) for n, (label, value) in enumerate(rows)]


def ranges(rows: Sequence[tuple[str, float, float | None, float | None]]) -> list[Bar]:
    """Estimates with their low and high limits (None: too few for limits), one below the other."""
    most = max((high or value for _, value, _, high in rows), default=0.0)
    if most <= 0:
        return []
    return [
        Bar(
            label,
            value,
            ROW * n,
            _long(value, most),
            None if low is None else _long(low, most),
            None if high is None else _long(high, most),
        )
        for n, (label, value, low, high) in enumerate(rows)
    ]


def _x(day: float, last: float) -> float:
    return round(LEFT + day / last * (WIDTH - LEFT - RIGHT), 1)


def _y(share: float) -> float:
    return round(BOTTOM - min(1.0, max(0.0, share)) * (BOTTOM - TOP), 1)


def _long(value: float, most: float) -> float:
    return round(value / most * BAR_WIDTH, 1)


def _path(points: Sequence[Point], last: float) -> str:
    return "M" + "L".join(f"{_x(day, last):g} {_y(share):g}" for day, share in points)
