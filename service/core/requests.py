"""The life of one request: caller, role, idempotency, and the one place where the web commits."""

import time
from collections.abc import Callable
from math import ceil
from uuid import UUID

import structlog
from flask import Flask, Response, abort, current_app, g, request
from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm.exc import StaleDataError
from werkzeug.routing import BaseConverter, IntegerConverter, Map, ValidationError

from service.core import again, idempotency, probes
from service.core.bodies import PRESENTATION, check_content_type
from service.core.clock import utc_now
from service.core.db import is_busy
from service.core.http import BASE, Caller, caller, connection, database, settings
from service.core.ids import new_id
from service.core.pace import Pace
from service.core.problems import busy, problem

Authenticate = Callable[[Connection, str], Caller | None]
MAX_BODY = 2 * 1024 * 1024
UNITS = {"si", "us"}
# Set only in this process, by core.inside: who asks, and whether the act is only rehearsed. No header
# of a request can become such a member of the environment (PEP 3333 prefixes headers with HTTP_).
INSIDE, REHEARSAL = "dipledger.caller", "dipledger.rehearsal"
log = structlog.get_logger()


class IdConverter(BaseConverter):
    """An id in an address, in its canonical text form; anything else is not found."""

    regex = r"[0-9a-fA-F-]{32,36}"

    def to_python(self, value: str) -> str:
        """Normalise the id."""
        try:
            return str(UUID(value))
        except ValueError as problem_:
            raise ValidationError from problem_


class NumberConverter(IntegerConverter):
    """A whole number in an address, small enough for every database; anything else is not found."""

    def __init__(self, rules: Map, /, *, least: int = 0, most: int = 999_999_999) -> None:
        super().__init__(rules, min=least, max=most)


def attach(app: Flask, authenticate: Authenticate) -> None:
    """Hang the hooks on `app`; `authenticate` finds the caller of a bearer secret."""
    app.config["MAX_CONTENT_LENGTH"] = MAX_BODY
    app.url_map.converters |= {"id": IdConverter, "int": NumberConverter}

    def admit() -> Response | None:
        g.request_id = new_id()
        g.setdefault("started", time.perf_counter())
        g.now = utc_now()
        if request.url_rule is None or not request.path.startswith(f"{BASE}/"):
            return None  # no such address, or not with this method: the framework answers
        return _identify(authenticate) or _enter()

    app.before_request(admit)
    app.after_request(_finish)
    app.teardown_request(_close)


def _identify(authenticate: Authenticate) -> Response | None:
    if INSIDE in request.environ:
        return _may(request.environ[INSIDE])
    kind, _, secret = request.headers.get("Authorization", "").partition(" ")
    if kind.lower() != "bearer" or not secret:
        return problem(401, "unauthenticated", "Send 'Authorization: Bearer <token>'.")
    found = _caller(authenticate, secret.strip())
    if found is None:
        return problem(401, "unauthenticated", "This token is unknown, expired or revoked.")
    return _too_fast(found) or _may(found)


def _too_fast(found: Caller) -> Response | None:
    """Answer 429 where a token asks faster than it may; people at the pages are no programs."""
    pace: Pace = current_app.extensions["dipledger.pace"]
    most = settings().requests_per_minute
    wait = pace.wait(found.id, time.monotonic(), most, getattr(_view(), "weight", 1))
    if not wait:
        return None
    told = f"This token may ask {most} times a minute. Wait and send the same again."
    response = problem(429, "too-many-requests", told)
    response.headers["Retry-After"] = str(ceil(wait))
    return response


def _caller(authenticate: Authenticate, secret: str) -> Caller | None:
    if request.method in {"GET", "HEAD"}:  # on the connection that reads what is asked for
        return authenticate(connection(), secret)
    with database().connect() as reader:  # nobody holds the writers' lock before he is known
        return authenticate(reader, secret)


def _may(found: Caller) -> Response | None:
    g.caller = found
    if found.role not in getattr(_view(), "roles", frozenset()):
        return problem(403, "forbidden", f"The role {found.role} may not do this.")
    return None


def _view() -> object:
    return current_app.view_functions.get(request.endpoint or "")


def _enter() -> Response | None:
    view = _view()
    check_content_type(getattr(view, "takes", ()))
    request.max_content_length = getattr(view, "most_bytes", MAX_BODY)
    g.units = _units(reads_query=getattr(view, "reads_query", False)) if request.query_string else "si"
    return idempotency.begin(g.now) if "caller" in g else None


def _units(*, reads_query: bool) -> str:
    unknown = set(request.args) - PRESENTATION
    if request.endpoint and unknown and not reads_query:
        abort(422, description=f"Unknown in the query: {', '.join(sorted(unknown))}.")
    units = request.args.get("units", "si")
    if units not in UNITS:
        abort(422, description="units must be si or us.")
    return units


def _finish(response: Response) -> Response:
    if "session" in g and request.method not in {"GET", "HEAD"}:
        response = _settle(response)
    response.headers["X-Request-Id"] = g.get("request_id", "")
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers.setdefault("Cache-Control", "no-store" if request.path.startswith(BASE) else "no-cache")
    if "again" not in g:
        probes.observe(response.status_code, time.perf_counter() - g.get("started", time.perf_counter()))
    return response


def _settle(response: Response) -> Response:
    replayed = "Idempotency-Replayed" in response.headers
    if request.environ.get(REHEARSAL) or g.get("rehearsal", False):  # a preview is the act, rolled back
        g.session.rollback()
        return response
    if response.status_code >= 400 or replayed:
        g.session.rollback()
        # A refusal that the state decided is the answer to this key; anything else may be tried again.
        if response.status_code != 409 or replayed or "idempotency" not in g:
            return response
    try:
        idempotency.keep(response, secret=g.get("answers_secret", False))
        g.session.commit()
    except StaleDataError:
        g.session.rollback()
        return problem(
            412, "precondition-failed", "Somebody else changed this at the same moment. Read it again."
        )
    except DBAPIError as error:
        g.session.rollback()
        return _not_now(error)
    wake = probes.waker()
    if wake is not None:
        wake()
    return response


def _not_now(error: DBAPIError) -> Response:
    if not is_busy(error):
        raise error
    # Nobody knows whether a commit that was cut off is one: a key finds out; without it none is sent twice.
    if not error.connection_invalidated or "idempotency" in g:
        again.want(error)
    return busy()


def _close(_error: BaseException | None) -> None:
    if "session" in g:
        g.session.close()
    if "connection" in g:
        g.connection.close()


def actor() -> str:
    """The id of whoever sends this request, for the journal."""
    return caller().id
