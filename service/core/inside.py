"""The HTTP interface, called from inside this process by the pages: same schemas, roles, rules, answers.

A page is a client of the interface like any other, without the network between: what it shows and what it
does has passed the very same checks, so that nothing can be decided in two ways.
"""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, cast
from urllib.parse import urlencode

import orjson
from flask import Response, current_app, g, request
from sqlalchemy.orm import Session
from werkzeug.datastructures import Headers
from werkzeug.test import EnvironBuilder

from service.core import again
from service.core.http import BASE, JSON, SHARED, Caller, database
from service.core.requests import INSIDE, REHEARSAL


@dataclass(frozen=True)
class Answer:
    """What the interface answered; a problem document when it is not `ok`."""

    status: int
    body: Any
    etag: str | None = None
    headers: Mapping[str, str] = field(default_factory=dict)

    @property
    def ok(self) -> bool:
        """True when it was done, or read."""
        return self.status < 400


def ask(  # noqa: PLR0913  # the parts of a request
    caller: Caller,
    method: str,
    path: str,
    body: Mapping[str, Any] | bytes | None = None,
    *,
    query: Mapping[str, Any] | None = None,
    key: str | None = None,
    etag: str | None = None,
    units: str = "si",
    rehearsal: bool = False,
    accept: str = JSON,
    media_type: str = JSON,
) -> Answer:
    """Ask the interface something, or to do something, as `caller`.

    `path` is below /api/v1. An act that is a `rehearsal` is carried out and rolled back: its answer says
    what would happen, or why it cannot. A `body` of bytes is sent as it is, as `media_type`.
    """
    asked = {name: value for name, value in (query or {}).items() if value not in (None, "")}
    if units != "si":
        asked["units"] = units
    headers = {"Accept": accept, "Idempotency-Key": key, "If-Match": etag}
    environ = {INSIDE: caller, REHEARSAL: rehearsal}
    if method == "GET" and request.method == "GET":
        environ[SHARED] = _shared()
    if method != "GET" and not rehearsal:
        again.acted()
    builder = EnvironBuilder(
        f"{BASE}{path}",
        method=method,
        query_string=urlencode(asked),
        headers=Headers({name: value for name, value in headers.items() if value is not None}),
        data=body if body is None or isinstance(body, bytes) else orjson.dumps(body),
        content_type=None if body is None else media_type,
        environ_base=environ,
    )
    app = current_app._get_current_object()  # type: ignore[attr-defined]  # the proxy would bind to itself
    # The request has its own application context, so its own session and transaction.
    with app.app_context(), app.request_context(builder.get_environ()):
        return _answered(app.full_dispatch_request())


@contextmanager
def reading() -> Iterator[Session]:
    """What a page reads beside the interface: in the one session of a GET, else in a session of its own.

    The one session is only for where nothing is written: it would not see an act of the same request.
    """
    if request.method == "GET":
        yield _shared()
    else:
        with database().reading() as reader:
            yield reader


def _shared() -> Session:
    """One reading session for all that a page reads: one moment, one connection. It ends with the page."""
    if "session" not in g:
        g.session = database().reader()
    return cast(Session, g.session)


def _answered(response: Response) -> Answer:
    found = response.get_data()
    etag_sent, _ = response.get_etag()
    return Answer(
        response.status_code,
        orjson.loads(found) if found and response.is_json else found or None,
        f'"{etag_sent}"' if etag_sent else None,
        dict(response.headers),
    )
