"""Reports: what was used, what was lost, and what became of lots; each as a picture, a table and CSV."""

from typing import Any

from flask import render_template, request, url_for
from flask_babel import gettext
from werkzeug import Response
from werkzeug.exceptions import NotFound

from service.console import asking
from service.console.door import bench, blueprint, person
from service.console.rules_reports import cost_of, days_to_release, label_of
from service.core.inside import ask
from service.reports.rules import By
from service.reports.rules_outcomes import OutcomesBy

MOST_ROWS = 200
PATHS = {"consumption": "/reports/consumption", "losses": "/reports/losses", "outcomes": "/reports/outcomes"}


@blueprint.get("/reports")
def reports() -> str:
    """Which reports there are."""
    return render_template("console/reports.html")


@blueprint.get("/reports/consumption")
def consumption() -> str:
    """What was used, its cost, and what was poured away."""
    by = _one_of(request.args.get("by", ""), [one.value for one in By])
    found, problem = _asked("consumption", by=by)
    drawn, currency = cost_of(found["rows"], by)
    return _report("consumption", found, problem, by=by, drawn=drawn, currency=currency)


@blueprint.get("/reports/losses")
def losses() -> str:
    """What left stock unused."""
    found, problem = _asked("losses", material=request.args.get("material", ""))
    drawn, currency = cost_of(found["rows"], "month")
    materials = [(one["code"], one["name"]) for one in asking.everything("/materials")]
    return _report("losses", found, problem, by="month", drawn=drawn, currency=currency, materials=materials)


@blueprint.get("/reports/outcomes")
def outcomes() -> str:
    """What became of ordinary lots."""
    by = _one_of(request.args.get("by", ""), [one.value for one in OutcomesBy])
    found, problem = _asked("outcomes", by=by)
    return _report("outcomes", found, problem, by=by, drawn=days_to_release(found["rows"]), currency="")


@blueprint.get("/reports/<name>.csv")
def report_csv(name: str) -> Response:
    """The same as a file for a spreadsheet."""
    if name not in PATHS:
        raise NotFound(gettext("There is no such report."))
    asked = {f"{key}_": value for key, value in request.args.items() if value}
    return asking.csv(PATHS[name], f"{name}.csv", **asked)


def _asked(name: str, **more: str) -> tuple[dict[str, Any], Any]:
    """A report of the days asked for; without them and with the reason when they cannot be."""
    days = {day: request.args.get(day, "") for day in ("from", "to")}
    answer = ask(person(), "GET", PATHS[name], query={**days, **more}, units=bench().units)
    if answer.ok:
        return answer.body, None
    return asking.read(PATHS[name]), answer.body


def _report(name: str, found: dict[str, Any], problem: Any, **more: Any) -> str:
    query: dict[str, Any] = {key: value for key, value in request.args.items() if value and problem is None}
    return render_template(
        f"console/report_{name}.html",
        name=name,
        report=found,
        rows=found["rows"][:MOST_ROWS],
        hidden=max(0, len(found["rows"]) - MOST_ROWS),
        csv=url_for("console.report_csv", name=name, **query),
        problem=problem,
        label_of=label_of,
        **more,
    )


def _one_of(asked: str, known: list[str]) -> str:
    return asked if asked in known else known[0]
