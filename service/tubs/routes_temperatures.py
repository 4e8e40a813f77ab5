"""Addresses of temperatures."""

from collections.abc import Mapping
from typing import Any

from flask import Response, g, request

from service.accounts.rules import BENCH, READERS
from service.core.bodies import parse_json
from service.core.errors import Invalid, Problem
from service.core.file_forms import bad_row, csv_body
from service.core.http import allow, answer, created, router, session
from service.core.pages import listed, page, page_of
from service.core.problems import read_form
from service.journal.web import act_from
from service.tubs import logs, queries, schemas, temperatures
from service.tubs.log_schemas import LOG, LogPreviewOut
from service.tubs.models import TemperatureReading
from service.tubs.rules import TypedReading

blueprint = router("temperatures", "The temperature of the water.")


@blueprint.route("/tubs/<id:tub_id>/temperatures")
@allow(READERS)
@blueprint.arguments(schemas.TemperatureQuery, location="query")
@blueprint.response(200, page_of(schemas.TemperatureOut))
def list_temperatures(asked: Mapping[str, Any], tub_id: str) -> Response:
    """List a tub's temperatures in order."""
    queries.tub_by_id(session(), tub_id)
    statement = temperatures.temperatures(tub_id, asked)
    found = page(session(), statement, [TemperatureReading.at, TemperatureReading.id], asked)
    return listed(found, lambda row: temperatures.temperature_shape(row, g.units))


@blueprint.route("/tubs/<id:tub_id>/temperatures", methods=["POST"])
@allow(BENCH)
@blueprint.reads(schemas.TemperaturesIn, "text/csv")
@blueprint.arguments(schemas.LogQuery, location="query")
@blueprint.response(201, schemas.TemperaturesOut)
def keep_temperatures(asked: Mapping[str, Any], tub_id: str) -> Response:
    """Keep one reading or a logger's series, as JSON or CSV: all of it or nothing."""
    tub = queries.tub_by_id(session(), tub_id, lock=True)
    if request.mimetype == "text/csv":
        late_reason: str | None = temperatures.LOGGER
        readings = logs.read_log(request.get_data(), decimal_mark=asked["decimal_mark"], delimiter=None)
    else:
        body = _loaded()
        late_reason = body["late_reason"] or (temperatures.LOGGER if body["logger"] else None)
        readings = _typed(body)
    act = act_from({"late_reason": late_reason})
    told = temperatures.record_temperatures(session(), act, tub, readings)
    return created(told, f"/tubs/{tub.id}/temperatures")


@blueprint.route("/tubs/<id:tub_id>/temperatures/preview", methods=["POST"])
@allow(BENCH)
@blueprint.reads(None, "text/csv")
@blueprint.arguments(schemas.LogQuery, location="query")
@blueprint.response(200, LogPreviewOut)
def preview_temperatures(asked: Mapping[str, Any], tub_id: str) -> Response:
    """Show what a logger's CSV file would bring, and every bad row; nothing is stored."""
    g.rehearsal = True  # the act itself, rolled back
    tub = queries.tub_by_id(session(), tub_id, lock=True)
    content = csv_body()
    try:
        readings = logs.read_log(content, decimal_mark=asked["decimal_mark"], delimiter=None)
        act = act_from({"late_reason": temperatures.LOGGER})
        told = temperatures.record_temperatures(session(), act, tub, readings)
    except Problem as refusal:
        if not all(str(reason.pointer).startswith("#/lines/") for reason in refusal.reasons):
            raise  # it is no file of rows
        return answer({"ok": False, "problems": [bad_row(reason) for reason in refusal.reasons]})
    return answer({"ok": True, "problems": [], **{name: told[name] for name in LOG}})


@blueprint.route("/temperatures/<id:reading_id>/void", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.VoidIn)
@blueprint.response(200, schemas.TemperatureOut)
def void_temperature(body: Mapping[str, Any], reading_id: str) -> Response:
    """Void a wrong reading; it stays in the record with the reason."""
    reading = temperatures.void_temperature(session(), act_from(body), reading_id, body["reason"])
    return answer(temperatures.reading_view(reading, g.units))


def _loaded() -> Mapping[str, Any]:
    body = read_form(schemas.TemperaturesIn(), parse_json(request.get_data()))
    if "readings" in body and ("value" in body or "unit" in body):
        raise Invalid.at("#/readings", "Send one reading, or a series under readings, not both.")
    for name in ("value", "unit"):
        if "readings" not in body and name not in body:
            raise Invalid.at(f"#/{name}", "Missing data for required field.")
    return body


def _typed(body: Mapping[str, Any]) -> list[TypedReading]:
    if "readings" not in body:
        return [logs.typed(body["at"] or g.now, body["value"], body["unit"])]
    return [
        logs.typed(entry["at"], entry["value"], entry["unit"], f"#/readings/{n}")
        for n, entry in enumerate(body["readings"])
    ]
