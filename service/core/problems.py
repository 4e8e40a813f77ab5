"""Every error as one shape: RFC 9457 `application/problem+json`, made in this file only."""

from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

import orjson
import structlog
from flask import Flask, Response, request
from flask_smorest import Api
from marshmallow import Schema, ValidationError
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm.exc import StaleDataError
from werkzeug.exceptions import HTTPException, InternalServerError

from service.core import again, errors
from service.core.db import is_busy
from service.core.reasons import Reason

MEDIA_TYPE = "application/problem+json"
STATUS: dict[type[errors.Problem], int] = {
    errors.NotFound: 404,
    errors.Invalid: 422,
    errors.Refused: 409,
    errors.Forbidden: 403,
    errors.PreconditionFailed: 412,
    errors.PreconditionRequired: 428,
}
TYPE_OF_STATUS = {
    400: "malformed-json",
    401: "unauthenticated",
    403: "forbidden",
    404: "not-found",
    405: "method-not-allowed",
    412: "precondition-failed",
    413: "too-large",
    415: "unsupported-media-type",
    422: "validation",
    428: "precondition-required",
    503: "unavailable",
}
UNEXPECTED = "Something went wrong on our side; it has been logged."
RETRY_AFTER_S = "1"
log = structlog.get_logger()


class ProblemApi(Api):  # type: ignore[misc]  # flask-smorest ships no types
    """flask-smorest's Api with our answer for every HTTP error, headers such as Allow kept."""

    def handle_http_exception(self, error: HTTPException) -> Response:
        """Answer an HTTP error raised by the framework or by webargs."""
        status = error.code or 500
        data: dict[str, Any] = getattr(error, "data", None) or {}
        pointers = list(_pointers(data.get("messages", {})))
        # A parser that found the body unreadable says so by raising 400 with a description.
        detail = "Some values are wrong; see errors." if pointers else str(error.description or "")
        response = problem(status, TYPE_OF_STATUS.get(status, "error"), detail, errors=pointers)
        kept = {
            name: value
            for name, value in error.get_headers()
            if name in {"Allow", "WWW-Authenticate", "Retry-After"}
        }
        response.headers.update(kept)
        return response

    def _register_error_handlers(self) -> None:
        super()._register_error_handlers()
        register(self._app)


def register(app: Flask) -> None:
    """Answer our own refusals, lost races and the unexpected."""
    app.register_error_handler(errors.Problem, refuse)
    app.register_error_handler(StaleDataError, _stale)
    app.register_error_handler(DBAPIError, _database_failed)
    app.register_error_handler(InternalServerError, _unexpected)


def refuse(error: errors.Problem) -> Response:
    """The answer to one of our own refusals."""
    status = STATUS[type(error)]
    extra: dict[str, Any] = {}
    if isinstance(error, errors.Invalid):
        extra["errors"] = [{"pointer": r.pointer or "#", "detail": r.detail} for r in error.reasons]
    if isinstance(error, errors.Refused):
        extra["reasons"] = [_reason(r) for r in error.reasons]
        extra["allowed"] = list(error.allowed)
        if error.current_state is not None:
            extra["current_state"] = error.current_state
    return problem(status, error.code, error.detail, **extra)


def read_form(form: Schema, body: Mapping[str, Any]) -> Mapping[str, Any]:
    """A body that a view loads itself, as its form gives it; raises Invalid with a pointer to each fault."""
    try:
        loaded: Mapping[str, Any] = form.load(body)
    except ValidationError as fault:
        found = list(_pointers({"json": fault.messages_dict}))
        reasons = [Reason("validation", entry["detail"], pointer=entry["pointer"]) for entry in found]
        raise errors.Invalid("validation", "Some values are wrong; see errors.", reasons) from fault
    return loaded


def problem(status: int, code: str, detail: str, **extra: Any) -> Response:
    """A problem document; empty extension members are left out."""
    body: dict[str, Any] = {
        "type": f"/problems/{code}",
        "title": code.replace("-", " ").capitalize(),
        "status": status,
        "detail": detail or HTTPStatus(status).description or HTTPStatus(status).phrase,
        "instance": request.path,
    }
    body |= {name: value for name, value in extra.items() if value or name == "reasons"}
    response = Response(orjson.dumps(body), status=status, content_type=MEDIA_TYPE)
    if status == 401:
        response.headers["WWW-Authenticate"] = 'Bearer realm="dipledger"'
    return response


def _reason(reason: Reason) -> dict[str, Any]:
    return {
        "code": reason.code,
        "detail": reason.detail,
        "needed": reason.needed,
        "have": reason.have,
        **({} if reason.pointer is None else {"pointer": reason.pointer}),
    }


def _stale(_error: StaleDataError) -> Response:
    return problem(
        412, "precondition-failed", "Somebody else changed this at the same moment. Read it again."
    )


def busy() -> Response:
    """The answer when the database could not take the act now."""
    response = problem(
        503,
        "unavailable",
        "The database cannot take this now. Send the same again, with the same Idempotency-Key.",
    )
    response.headers["Retry-After"] = RETRY_AFTER_S
    return response


def _database_failed(error: DBAPIError) -> Response:
    if again.want(error):
        return busy()
    if is_busy(error):
        log.warning("database busy", path=request.path, exc_info=error)
        return busy()
    log.error("unexpected", path=request.path, exc_info=error)
    return problem(500, "internal", UNEXPECTED)


def _unexpected(error: InternalServerError) -> Response:
    log.error("unexpected", path=request.path, exc_info=error.original_exception)
    return problem(500, "internal", UNEXPECTED)


def _pointers(messages: Mapping[str, Any]) -> list[dict[str, str]]:
    found: list[dict[str, str]] = []
    for place, tree in messages.items():
        prefix = "#" if place == "json" else f"#/{place}"
        _walk(tree, prefix, found)
    return found


def _walk(tree: Any, pointer: str, found: list[dict[str, str]]) -> None:
    if isinstance(tree, Mapping):
        for key, below in tree.items():
            _walk(below, pointer if key == "_schema" else f"{pointer}/{_escape(str(key))}", found)
    elif isinstance(tree, list):
        found.extend({"pointer": pointer, "detail": str(text)} for text in tree)
    else:
        found.append({"pointer": pointer, "detail": str(tree)})


def _escape(key: str) -> str:
    return key.replace("~", "~0").replace("/", "~1")
