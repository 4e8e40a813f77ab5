"""Addresses of temperatures."""

from collections.abc import Mapping
from typing import Any

from flask import Response, g, request

from service.accounts.rules import BENCH, READERS
from service.core.bodies import parse_json
from service.core.errors import Invalid
from service.core.http import allow, answer, created, router, session
from service.core.pages import listed, page, page_of
from service.journal.web import act_from
from service.tubs import queries, schemas, temperatures
from service.tubs.models import TemperatureReading

blueprint = router("temperatures", "The temperature of the water.")


@blueprint.route("/tubs/<id:tub_id>/temperatures")
@allow(READERS)
@blueprint.arguments(schemas.TemperatureQuery, location="query")
@blueprint.response(200, page_of(schemas.TemperatureOut))
def list_temperatures(asked: Mapping[str, Any], tub_id: str) -> Response:
    """List a tub's temperatures in order."""
    queries.tub_by_id(session(), tub_id)
    statement = queries.temperatures_of(tub_id, asked["start"], asked["end"])
    found = page(session(), statement, [TemperatureReading.at, TemperatureReading.id], asked)
    return listed(found, queries.temperature_shape)


@blueprint.route("/tubs/<id:tub_id>/temperatures", methods=["POST"])
@allow(BENCH)
@blueprint.reads(schemas.TemperaturesIn, "text/csv")
@blueprint.response(201, schemas.TemperaturesOut)
def keep_temperatures(tub_id: str) -> Response:
    """Keep one reading or a logger's series, as JSON or CSV: all of it or nothing."""
    tub = queries.tub_by_id(session(), tub_id, lock=True)
    given = {} if request.mimetype == "text/csv" else _loaded()
    act = act_from({"late_reason": given.get("late_reason")})
    readings = temperatures.typed(given, g.now) if given else temperatures.from_csv(request.get_data())
    if not readings:
        raise Invalid.at("#", "There is no reading in this file.")
    kept = temperatures.keep(session(), act, tub, readings, logger=not given or given["logger"])
    moments = [reading.at for reading in readings]
    counted = {"kept": len(kept), "known_before": len(set(moments)) - len(kept)}
    told = {**counted, "first_at": min(moments), "last_at": max(moments)}
    return created(told, f"/tubs/{tub.id}/temperatures")


@blueprint.route("/temperatures/<id:reading_id>/void", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.VoidIn)
@blueprint.response(200, schemas.TemperatureOut)
def void_temperature(body: Mapping[str, Any], reading_id: str) -> Response:
    """Void a wrong reading; it stays in the record with the reason."""
    reading = temperatures.void(session(), act_from(body), reading_id, reason=body["reason"])
    return answer(queries.temperature_view(reading))


def _loaded() -> Mapping[str, Any]:
    given: Mapping[str, Any] = schemas.TemperaturesIn().load(parse_json(request.get_data()))
    if "readings" in given and ("value" in given or "unit" in given):
        raise Invalid.at("#/readings", "Send one reading, or a series under readings, not both.")
    if "readings" not in given:
        for name in ("value", "unit"):
            if name not in given:
                raise Invalid.at(f"#/{name}", "Missing data for required field.")
    return given
