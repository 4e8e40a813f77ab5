"""The small picture of what a material will still hold on each of the coming days; geometry only."""

from collections.abc import Sequence
from dataclasses import dataclass

WIDTH, HEIGHT = 240.0, 60.0


@dataclass(frozen=True)
class Bars:
    """A stepped line below which the stock lies, and the first day on which nothing is left."""

    path: str
    empty_on: str | None
    most: float


def bars(days: Sequence[tuple[str, float]]) -> Bars:
    """The line of (day, balance); a balance below nothing is drawn as nothing."""
    most = max([balance for _, balance in days], default=0.0)
    empty_on = next((day for day, balance in days if balance <= 0), None)
    if most <= 0:
        return Bars("", empty_on, 0.0)
    width = WIDTH / max(1, len(days))
    points = []
    for n, (_, balance) in enumerate(days):
        y = round(HEIGHT * (1 - max(0.0, balance) / most), 1)
        points += [f"{round(n * width, 1):g} {y:g}", f"{round((n + 1) * width, 1):g} {y:g}"]
    return Bars(f"M0 {HEIGHT:g}L{'L'.join(points)}L{WIDTH:g} {HEIGHT:g}Z", empty_on, most)
