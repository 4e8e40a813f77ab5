"""Tubs: what stands in each, its temperature log, and what test kits read."""

from datetime import timedelta
from typing import Any

from flask import g, redirect, render_template, request, url_for
from werkzeug import Response

from service.console import asking, forms
from service.console.door import bench, blueprint
from service.console.queries_lot import lots_in_tubs
from service.console.rules_paste import pasted_readings
from service.core.inside import reading

Page = Response | tuple[str, int]
DEGREES = {"us": "[degF]", "si": "Cel"}
SHOWN, LATELY = 20, timedelta(days=7)


@blueprint.get("/tubs")
def tubs(problem: Any = None) -> str:
    """Every tub with what stands in it."""
    found = asking.read("/tubs", **asking.page_query())
    with reading() as reader:
        there = lots_in_tubs(reader, [one["id"] for one in found["items"]])
    return render_template(
        "console/tubs.html",
        tubs=found["items"],
        found=found,
        there=there,
        weeks=asking.read("/reports/tubs")["rows"],
        problem=problem,
    )


@blueprint.post("/tubs")
def add_tub() -> Page:
    """Set a tub up."""
    set_point = forms.number("set_point")
    body = {
        "code": forms.text("code"),
        "place": forms.text("place"),
        "volume": forms.amount("volume"),
        "set_point": None if set_point is None else {"value": set_point, "unit": DEGREES[bench().units]},
    }
    answer = asking.act("/tubs", forms.without_empty(body))
    if not answer.ok:
        return tubs(answer.body), answer.status
    return redirect(url_for("console.tub", tub_id=answer.body["id"]), 303)


@blueprint.get("/tubs/<id:tub_id>")
def tub(tub_id: str, problem: Any = None) -> str:
    """One tub."""
    return render_template(
        "console/tub.html",
        tub=asking.read(f"/tubs/{tub_id}"),
        lots=asking.read("/lots", tub=tub_id)["items"],
        readings=_newest(f"/tubs/{tub_id}/temperatures", from_=(g.now - LATELY).isoformat()),
        measurements=_newest(f"/tubs/{tub_id}/measurements"),
        degrees="°F" if bench().units == "us" else "°C",
        problem=problem,
        done=request.args.get("done", ""),
    )


@blueprint.post("/tubs/<id:tub_id>/log")
def read_out(tub_id: str) -> Page:
    """Write down one reading, or what a logger has kept."""
    lines = request.form.get("log", "")
    body: dict[str, Any]
    if lines.strip():
        read = pasted_readings(lines, bench().zone)
        readings = [{"at": at, "value": value, "unit": DEGREES[bench().units]} for at, value in read]
        body = {"readings": readings, "logger": True, "late_reason": forms.text("late_reason")}
    else:
        body = {"value": forms.number("value"), "unit": DEGREES[bench().units], **forms.when()}
    answer = asking.act(f"/tubs/{tub_id}/temperatures", forms.without_empty(body))
    return _shown(tub_id, answer)


@blueprint.post("/tubs/<id:tub_id>/measure")
def measure(tub_id: str) -> Page:
    """Write down what a test kit read."""
    body = {
        "substance": forms.text("substance"),
        "value": forms.number("value"),
        "kit": forms.text("kit"),
        "kit_limit": forms.number("kit_limit"),
        **forms.when(),
    }
    return _shown(tub_id, asking.act(f"/tubs/{tub_id}/measurements", forms.without_empty(body)))


@blueprint.post("/tubs/<id:tub_id>/change")
def change(tub_id: str) -> Page:
    """Write a water change down."""
    share = forms.number("percent")
    fraction = share / 100 if isinstance(share, float) else share
    body = {"fraction": fraction, "redose": forms.ticked("redose"), **forms.when()}
    return _shown(tub_id, asking.act(f"/tubs/{tub_id}/water-changes", forms.without_empty(body)))


def _newest(path: str, **query: Any) -> list[Any]:
    """The last entries of a list that is in the order of time, the newest first."""
    return list(asking.everything(path, **query))[: -SHOWN - 1 : -1]


def _shown(tub_id: str, answer: Any) -> Page:
    if not answer.ok:
        return tub(tub_id, answer.body), answer.status
    return redirect(url_for("console.tub", tub_id=tub_id, done="yes"), 303)
