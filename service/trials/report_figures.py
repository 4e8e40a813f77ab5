"""The figures of a trial's report: egg masses hatched and plants alive, day by day."""

from collections.abc import Mapping, Sequence
from typing import Any
from xml.sax.saxutils import escape

from reportlab.graphics.charts.lineplots import LinePlot
from reportlab.graphics.shapes import Drawing, String
from reportlab.lib import colors
from reportlab.lib.styles import getSampleStyleSheet
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Paragraph, Spacer

LINES = (colors.black, colors.firebrick, colors.steelblue, colors.darkgreen, colors.darkorange, colors.purple)
SMALL = 8


def figures(result: Mapping[str, Any]) -> list[Flowable]:
    """The plots of a result (`results.result_view`); none without observations."""
    hatching = {
        f"{row['arm']}, {row['pest']}": [(p["day"], p["hatched"] / p["masses"]) for p in row["points"]]
        for row in result["hatching"]
    }
    expected = next(
        (
            [(p["day"], p["fresh"]) for p in row["points"]]
            for row in result["hatching"]
            if row["points"][0]["fresh"] is not None
        ),
        None,
    )
    if expected:
        hatching["expected of fresh eggs, untreated"] = expected
    last = max((p["day"] for row in result["hatching"] for p in row["points"]), default=0)
    living = {
        f"{row['arm']}, {row['plant']}": _stairs(
            row["curve"], max(last, *(s["day"] for s in row["condition"]), 1)
        )
        for row in result["plants"]
        if row["condition"]
    }
    return [
        *_plot("Egg masses hatched", hatching),
        *_plot("Plants alive", living),
    ]


def _stairs(curve: Sequence[Mapping[str, Any]], last: float) -> list[tuple[float, float]]:
    points, alive = [(0.0, 1.0)], 1.0
    for step in curve:
        points += [(step["day"], alive), (step["day"], step["alive"])]
        alive = step["alive"]
    return [*points, (last, alive)]


def _plot(title: str, lines: Mapping[str, Sequence[tuple[float, float]]]) -> list[Flowable]:
    known = {name: points for name, points in lines.items() if len(points) > 1}
    if not known:
        return []
    drawing = Drawing(170 * mm, 60 * mm + 10 * len(known))
    plot = LinePlot()
    plot.x, plot.y, plot.width, plot.height = 30, 20 + 10 * len(known), 150 * mm, 48 * mm
    plot.data = [list(points) for points in known.values()]
    plot.yValueAxis.valueMin, plot.yValueAxis.valueMax, plot.xValueAxis.valueMin = 0, 1, 0
    for n, name in enumerate(known):
        plot.lines[n].strokeColor = LINES[n % len(LINES)]
        plot.lines[n].strokeWidth = 1 + n // len(LINES)
        drawing.add(String(30, 10 * n, name, fontSize=SMALL, fillColor=LINES[n % len(LINES)]))
    drawing.add(plot)
    return [
        Spacer(1, 4 * mm),
        Paragraph(escape(f"{title}, share by day"), getSampleStyleSheet()["Heading3"]),
        drawing,
    ]
