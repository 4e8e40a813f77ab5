"""What every route uses: the session and the actor of this request, roles, ETags, answers."""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Protocol, TypeVar, cast

import orjson
from flask import Response, current_app, g, request
from flask_smorest import Blueprint
from marshmallow import Schema
from sqlalchemy import Connection
from sqlalchemy.orm import Session
from werkzeug.datastructures import ETags

from service.core import errors
from service.core.bodies import StrictParser
from service.core.db import Database
from service.core.settings import Settings
from service.core.shapes import ExactAmount
from service.science import amounts

BASE = "/api/v1"
JSON = "application/json"
SHARED = "dipledger.session"  # set by core.inside alone: the reading session of the page that asks
F = TypeVar("F", bound=Callable[..., Any])


class Tagged(Protocol):
    """Anything with an id and a version, so with an ETag."""

    id: Any
    version: Any


@dataclass
class Tag:
    """What an ETag is made of."""

    id: Any
    version: Any


@dataclass(frozen=True)
class Caller:
    """Who sends this request: the id of a token or user, a name to show, and a role."""

    id: str
    name: str
    role: str


class Router(Blueprint):  # type: ignore[misc]  # flask-smorest ships no types
    """A blueprint that reads bodies and queries strictly; its decorators keep the type of what they wrap."""

    ARGUMENTS_PARSER = StrictParser()

    def route(self, rule: str, *, methods: Sequence[str] = ("GET",)) -> Callable[[F], F]:
        """Answer at an address, GET unless said otherwise."""
        return cast(Callable[[F], F], super().route(rule, methods=list(methods)))

    def arguments(self, schema: type[Schema], *, location: str = "json") -> Callable[[F], F]:
        """Load the body (or the query) by a schema and give it as the first argument."""
        load = super().arguments(schema(), location=location)  # once: it keeps nothing of what it loads

        def decorate(view: F) -> F:
            view.reads_query = location == "query"  # type: ignore[attr-defined]  # read by core.requests
            return cast(F, load(view))

        return decorate

    def reads(self, schema: type[Schema] | None, *others: str) -> Callable[[F], F]:
        """Document a JSON body that the view loads itself, if any, beside bodies of other media types."""
        text = {"schema": {"type": "string"}}
        json = {} if schema is None else {JSON: {"schema": schema}}
        content = {**json, **dict.fromkeys(others, text)}
        return cast(Callable[[F], F], self.doc(requestBody={"required": True, "content": content}))

    def alt_response(self, status: int, *, schema: type[Schema]) -> Callable[[F], F]:
        """Document a second way in which a view answers well."""
        return cast(Callable[[F], F], super().alt_response(status, schema=schema))

    def file(self, content_type: str) -> Callable[[F], F]:
        """Document an answer that is a file."""
        schema = {"type": "string", "format": "binary"}
        content = {content_type: {"schema": schema}}
        return cast(Callable[[F], F], self.doc(responses={"200": {"description": "OK", "content": content}}))

    def response(self, status: int, schema: type[Schema] | Schema | None = None) -> Callable[[F], F]:
        """Document the answer; views make it themselves."""
        return cast(Callable[[F], F], super().response(status, schema))


def router(name: str, description: str) -> Router:
    """The blueprint of one room, mounted below `/api/v1`."""
    return Router(name, name, url_prefix=BASE, description=description)


def allow(roles: Collection[str]) -> Callable[[F], F]:
    """Let only these roles call a route; a test checks that every route says one."""

    def decorate(view: F) -> F:
        view.roles = frozenset(roles)  # type: ignore[attr-defined]  # read by core.requests
        return view

    return decorate


def weighs(weight: int) -> Callable[[F], F]:
    """Let a route count as so many requests against the pace of its caller."""

    def decorate(view: F) -> F:
        view.weight = weight  # type: ignore[attr-defined]  # read by core.requests
        return view

    return decorate


def takes(media_types: Collection[str], most_bytes: int) -> Callable[[F], F]:
    """Let a route take a body of these media types, up to so many bytes, in place of JSON or CSV."""

    def decorate(view: F) -> F:
        view.takes, view.most_bytes = tuple(media_types), most_bytes  # type: ignore[attr-defined]  # as above
        return view

    return decorate


def database() -> Database:
    """The database of the running application."""
    return cast(Database, current_app.extensions["dipledger.database"])


def settings() -> Settings:
    """The settings of the running application."""
    return cast(Settings, current_app.extensions["dipledger.settings"])


def session() -> Session:
    """The one session of this request: reading for GET and HEAD, writing otherwise."""
    if SHARED in request.environ:
        return cast(Session, request.environ[SHARED])
    if "session" not in g:
        g.session = database().reader(bind=connection()) if _is_safe() else database().writer()
    return cast(Session, g.session)


def connection() -> Connection:
    """The one connection on which a request reads, the same as its session's; a session costs more."""
    if SHARED in request.environ or not _is_safe():
        return session().connection()
    if "connection" not in g:
        g.connection = database().connect()
    return cast(Connection, g.connection)


def _is_safe() -> bool:
    return request.method in {"GET", "HEAD", "OPTIONS"} or g.get("computes", False)


def caller() -> Caller:
    """Who sends this request; routes are only reached with one."""
    return cast(Caller, g.caller)


def etag(thing: Tagged) -> str:
    """The strong ETag of one version of a thing."""
    return f"{str(thing.id)[-12:]}-{thing.version}"


def match(thing: Tagged, *, required: bool = False) -> None:
    """Hold If-Match against the version just locked; 428 when required and not sent, 412 when stale."""
    if "If-Match" not in request.headers:
        if required:
            raise errors.PreconditionRequired
        return
    wanted: ETags = request.if_match
    if not wanted.contains(etag(thing)):
        raise errors.PreconditionFailed("This has changed since you read it. Read it again.")


def answer(
    body: Any, status: int = 200, *, thing: Tagged | None = None, location: str | None = None
) -> Response:
    """A JSON answer; with `thing` it carries its ETag, and a GET that already has it gets 304."""
    response = Response(dumps(body), status=status, content_type=JSON)
    if location is not None:
        response.headers["Location"] = location
    if thing is not None:
        response.set_etag(etag(thing))
        if request.method in {"GET", "HEAD"}:
            response.make_conditional(request)
    return response


def answer_unless_held(tag: Callable[[], Tagged], body: Callable[[], Mapping[str, Any]]) -> Response:
    """A thing with its ETag; 304 for a reader who holds this version, from the `tag` alone and no body."""
    if request.if_none_match:
        found = tag()
        if request.if_none_match.contains(etag(found)):
            response = Response(status=304)
            response.set_etag(etag(found))
            return response
    shown = body()
    return answer(shown, thing=Tag(shown["id"], shown["version"]))


def created(body: Any, location: str, thing: Tagged | None = None) -> Response:
    """201 with the address of what was made."""
    return answer(body, 201, thing=thing, location=f"{BASE}{location}")


def dumps(body: Any) -> bytes:
    """JSON bytes: moments in UTC with Z, amounts in the asked units, decimals as text."""
    return orjson.dumps(body, default=_present, option=orjson.OPT_UTC_Z | orjson.OPT_PASSTHROUGH_DATACLASS)


def _present(value: Any) -> Any:
    if isinstance(value, amounts.Amount):
        shown = amounts.present(value, g.get("units", "si"))
        return {"value": float(shown.value), "unit": shown.unit}
    if isinstance(value, ExactAmount):
        shown = amounts.present(value.amount, g.get("units", "si"))
        return {"value": f"{shown.value.normalize():f}", "unit": shown.unit}
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, Mapping | frozenset | set | tuple):
        return dict(value) if isinstance(value, Mapping) else sorted(value)
    raise TypeError(f"{type(value).__name__} has no JSON form")


def flat(body: Mapping[str, Any]) -> dict[str, Any]:
    """A body as one CSV row: nested members joined by a dot, lists by a blank."""
    return dict(_columns(orjson.loads(dumps(body)), ""))


def _columns(body: Mapping[str, Any], prefix: str) -> Iterator[tuple[str, Any]]:
    for name, value in body.items():
        if isinstance(value, Mapping):
            yield from _columns(value, f"{prefix}{name}.")
        elif isinstance(value, list):
            yield f"{prefix}{name}", " ".join(v if isinstance(v, str) else dumps(v).decode() for v in value)
        else:
            yield f"{prefix}{name}", value
