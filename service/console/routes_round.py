"""Today's round: everything due, tub after tub, each done with one tap and the facts asked for."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from flask import Response, g, redirect, render_template, request, send_from_directory, url_for
from flask_babel import gettext
from werkzeug import Response as AnyResponse

from service.console import asking, forms
from service.console.door import bench, blueprint
from service.console.queries_round import tubs_with_finds
from service.console.rules_round import Slot, Stop, slot_of, stops
from service.core.clock import day_start, local_day
from service.core.inside import Answer, reading

FOUND_LATELY = timedelta(days=21)
SHOWN_LATER = timedelta(days=7)
FAHRENHEIT = {"us": "[degF]", "si": "Cel"}


@blueprint.get("/round")
def todays_round(failures: Sequence[tuple[str, Any]] = ()) -> str:
    """Show what is due."""
    kind, tub = request.args.get("kind", ""), request.args.get("tub", "")
    work = asking.read("/due-work", limit=asking.MOST, kind=kind, until=(g.now + SHOWN_LATER).isoformat())
    chosen = [one for one in work["items"] if not tub or (one["tub"] and one["tub"]["id"] == tub)]
    tubs = {one["id"]: one for one in asking.everything("/tubs")}
    with reading() as reader:
        dirty = tubs_with_finds(reader, g.now - FOUND_LATELY)
    found = stops(chosen, _slots(chosen), tubs, dirty)
    return render_template(
        "console/round.html",
        groups=[(slot, [stop for stop in found if stop.slot is slot]) for slot in Slot],
        tubs=tubs,
        doses=_doses(found),
        minutes=sum(one["minutes"] for one in chosen if _slots([one])[one["id"]] is not Slot.LATER),
        changes=sum(bool(stop.of("water_change")) for stop in found if stop.slot is not Slot.LATER),
        kind=kind,
        tub=tub,
        failures=failures,
        done=request.args.get("done", type=int),
        degrees="°F" if bench().units == "us" else "°C",
    )


@blueprint.post("/round/tubs")
def do_tubs() -> AnyResponse | tuple[str, int]:
    """Write down what was done at one tub, or at all that are ticked."""
    only = forms.text("only")
    chosen = [only] if only else request.form.getlist("tick")
    failures = []
    for tub_id in chosen:
        failures += [
            (request.form.get(f"{tub_id}-code", ""), answer.body)
            for answer in _done_at(tub_id)
            if not answer.ok
        ]
    if not chosen:
        failures.append(("", gettext("Tick at least one tub.")))
    if failures:
        return todays_round(failures), 409
    return redirect(url_for("console.todays_round", done=len(chosen)), 303)


@blueprint.post("/round/steps/<id:treatment_id>/<int:n>/<any(start, finish):verb>")
def do_step(treatment_id: str, n: int, verb: str) -> AnyResponse | tuple[str, int]:
    """Start or end one step of a treatment."""
    body = forms.when() | ({"departure": forms.text("departure")} if verb == "finish" else {})
    answer = asking.act(f"/treatments/{treatment_id}/steps/{n}/{verb}", body)
    if not answer.ok:
        return todays_round([(request.form.get("code", ""), answer.body)]), answer.status
    return redirect(url_for("console.todays_round", done=1), 303)


@blueprint.get("/service-worker.js")
def service_worker() -> Response:
    """The script that keeps acts while there is no signal; it must come from the folder that it serves."""
    response = send_from_directory(f"{blueprint.root_path}/static", "service-worker.js")
    response.headers["Service-Worker-Allowed"] = "/console/"
    return response


def _done_at(tub_id: str) -> Iterator[Answer]:
    """Temperature, then the old water, then the change: in the order in which hands do it."""
    when, tub = forms.when(), f"/tubs/{tub_id}"
    degrees = forms.number(f"{tub_id}-temperature")
    if degrees is not None:
        read = {"value": degrees, "unit": FAHRENHEIT[bench().units], **when}
        yield asking.act(f"{tub}/temperatures", read, part=f"{tub_id}-t")
    if forms.ticked(f"{tub_id}-strain"):
        look = {"tub_id": tub_id, "method": "strain", "findings": [], **when}
        yield asking.act("/inspections", look, part=f"{tub_id}-s")
    if forms.ticked(f"{tub_id}-change"):
        fraction = float(request.form.get(f"{tub_id}-fraction", "1"))
        change = {"fraction": fraction, "redose": forms.ticked(f"{tub_id}-redose"), **when}
        yield asking.act(f"{tub}/water-changes", change, part=f"{tub_id}-w")


def _slots(work: Sequence[Mapping[str, Any]]) -> dict[str, Slot]:
    today = local_day(g.now, bench().zone)
    day = day_start(today, bench().zone), day_start(today + timedelta(days=1), bench().zone)
    return {
        one["id"]: slot_of(one["kind"], datetime.fromisoformat(one["due_at"]), g.now, day) for one in work
    }


def _doses(found: Sequence[Stop]) -> dict[str, Any]:
    """What a change of water pours again in each tub with a course, from the act itself, rehearsed."""
    doses = {}
    for stop in found:
        for one in stop.of("water_change") if stop.slot is not Slot.LATER else ():
            if one["treatment_id"] and stop.tub:
                body = {"fraction": one["fraction"], "redose": True}
                answer = asking.rehearse(f"/tubs/{stop.tub['id']}/water-changes", body)
                doses[stop.tub["id"]] = answer.body
    return doses
