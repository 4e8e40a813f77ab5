"""The description of the service as OpenAPI 3.1, made from what it really does."""

from importlib.resources import files
from typing import Any

import orjson
from apispec.ext.marshmallow import MarshmallowPlugin
from flask import Flask, Response, abort
from flask_smorest import Api
from marshmallow import Schema, fields

from service.core.fields import PRINTABLE, Form
from service.core.problems import MEDIA_TYPE

CONFIG = {
    "API_TITLE": "Dipledger",
    "API_VERSION": "v1",
    "OPENAPI_VERSION": "3.1.0",
}


def room_and_name(schema: type[Schema] | Schema) -> str:
    """A schema's name in the document: two rooms may use the same word."""
    found = schema if isinstance(schema, type) else type(schema)
    return f"{found.__module__.split('.')[1]}.{found.__name__}"


SPEC: dict[str, Any] = {
    "marshmallow_plugin": MarshmallowPlugin(schema_name_resolver=room_and_name),
    "info": {
        "description": "Carries a nursery's plant lots from an incoming shipment to a clearance statement.",
        "license": {"name": "MIT", "identifier": "MIT"},
    },
    "servers": [{"url": "/"}],
}

DOCS_FILES = {
    "swagger-ui-bundle.js": "text/javascript",
    "swagger-ui.css": "text/css",
    "start.js": "text/javascript",
}
COMMON = ("401", "403", "404", "422", "429", "500", "503")
CHANGING = ("400", "409", "412", "413", "415", "428")
UNITS = {
    "name": "units",
    "in": "query",
    "schema": {"type": "string", "enum": ["si", "us"], "default": "si"},
    "description": "Units of the amounts in the answer.",
}
KEY = {
    "name": "Idempotency-Key",
    "in": "header",
    "schema": {"type": "string", "pattern": '^("[!#-~]{1,255}"|[!#-~]{1,255})$'},
    "description": "The same key and body gives the first answer again (kept 7 days).",
}
IF_MATCH = {
    "name": "If-Match",
    "in": "header",
    "schema": {"type": "string"},
    "description": "The ETag of the version that was seen; another one by now is 412.",
}
MUST_MATCH = {"put", "patch", "delete"}
MUST_MATCH_TOO = {"/api/v1/lots/{lot_id}/clearance"}
NEED_NOT_MATCH = {"/api/v1/reservations/{reservation_id}"}  # taking a promise back makes nothing riskier


class ProblemReason(Form):
    """One reason why the state of things forbids an act."""

    code = fields.String()
    detail = fields.String()
    needed = fields.Raw(allow_none=True)
    have = fields.Raw(allow_none=True)
    pointer = fields.String()


class ProblemError(Form):
    """One wrong value of a body."""

    pointer = fields.String()
    detail = fields.String()


class Problem(Form):
    """RFC 9457 problem details."""

    type = fields.String(required=True)
    title = fields.String(required=True)
    status = fields.Integer(required=True)
    detail = fields.String(required=True)
    instance = fields.String(required=True)
    errors = fields.List(fields.Nested(ProblemError))
    reasons = fields.List(fields.Nested(ProblemReason))
    allowed = fields.List(fields.String())
    current_state = fields.String()


def attach(app: Flask, api: Api) -> None:
    """Publish `/openapi.json` and the page that shows it, `/docs`."""
    document = orjson.dumps(describe(api))
    page = files("service.core").joinpath("docs.html").read_bytes()
    vendor = files("service.core").joinpath("vendor")

    def show_description() -> Response:
        return Response(document, content_type="application/json")

    def show_docs() -> Response:
        response = Response(page, content_type="text/html; charset=utf-8")
        response.headers["Content-Security-Policy"] = (
            "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
            "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
        )
        return response

    app.add_url_rule("/openapi.json", view_func=show_description)

    def show_docs_file(name: str) -> Response:
        if name not in DOCS_FILES:
            abort(404)
        return Response(vendor.joinpath(name).read_bytes(), content_type=DOCS_FILES[name])

    app.add_url_rule("/docs", view_func=show_docs)
    app.add_url_rule("/docs/<name>", view_func=show_docs_file)


def describe(api: Api) -> dict[str, Any]:
    """The OpenAPI document: every operation lists the problems it can answer with, and no catch-all."""
    api.spec.components.schema("Problem", schema=Problem)
    api.spec.components.security_scheme("token", {"type": "http", "scheme": "bearer"})
    document: dict[str, Any] = api.spec.to_dict()
    for schema in document["components"]["schemas"].values():
        _name_members(schema)
    for path, item in document["paths"].items():
        for method, operation in item.items():
            if method in {"get", "post", "put", "patch", "delete"}:
                _complete(path, method, operation)
    return document


def _name_members(schema: dict[str, Any]) -> None:
    # Members of any name are texts too: what the body may not hold, their names may not.
    for member in schema.get("properties", {}).values():
        if member.get("additionalProperties"):
            member["propertyNames"] = {"pattern": PRINTABLE}


def _complete(path: str, method: str, operation: dict[str, Any]) -> None:
    responses = operation["responses"]
    responses.pop("default", None)
    wanted = COMMON + (("400",) if method == "get" else CHANGING)
    problem = {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}
    for status in {*wanted, *(status for status in responses if status >= "400")}:
        told = responses.get(status, {}).get("content", {})  # what a route says beside problems stays
        responses[status] = {"description": "Problem", "content": {**told, **problem}}
    parameters = operation.setdefault("parameters", [])
    if path.startswith("/api/"):
        operation["security"] = [{"token": []}]
        parameters.append(UNITS)
    if method == "post":
        parameters.append(KEY)
    if method not in {"get"}:
        must = (method in MUST_MATCH or path in MUST_MATCH_TOO) and path not in NEED_NOT_MATCH
        parameters.append({**IF_MATCH, "required": must})
