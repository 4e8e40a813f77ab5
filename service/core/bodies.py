"""Reading what a client sends, strictly: no duplicate keys, no NaN, no control characters."""

import json
import math
import re
from collections.abc import Collection
from typing import Any, NoReturn

from flask import Request, abort, request
from marshmallow import RAISE, Schema
from webargs.flaskparser import FlaskParser
from webargs.multidictproxy import MultiDictProxy
from werkzeug.datastructures import MultiDict

MAX_DEPTH = 20
CONTROL, SURROGATE = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]"), re.compile(r"[\ud800-\udfff]")
PRESENTATION = frozenset({"units"})  # understood on every address; core.http reads it


class Malformed(ValueError):
    """The bytes are not the JSON we accept; the message says why."""


class StrictParser(FlaskParser):
    """webargs with our strictness: unknown members and repeated or unknown query names are refused."""

    DEFAULT_UNKNOWN_BY_LOCATION = {"json": RAISE, "query": RAISE}  # noqa: RUF012  # webargs' own form

    def load_json(self, req: Request, schema: Schema) -> Any:
        """Parse the body of `req`; an empty body counts as `{}`."""
        return parse_json(req.get_data(cache=True))

    def load_querystring(self, req: Request, schema: Schema) -> Any:
        """Take the query without the names that only say how to present the answer."""
        repeated = [name for name in req.args if len(req.args.getlist(name)) > 1]
        if repeated:
            abort(422, description=f"Given more than once in the query: {', '.join(sorted(repeated))}.")
        kept = MultiDict((k, v) for k, v in req.args.items() if k not in PRESENTATION)
        return MultiDictProxy(kept, schema)


def parse_json(body: bytes) -> Any:
    """Parse a request body; aborts with 400 and the reason when it is not strict JSON."""
    if not body:
        return {}
    try:
        value = json.loads(
            body.decode("utf-8"),
            object_pairs_hook=_unique,
            parse_constant=_no_constant,
            parse_float=_finite,
            parse_int=_bounded,
        )
        _check(value, 0)
    except (ValueError, RecursionError) as problem:
        abort(400, description=f"The body is not acceptable JSON: {problem}.")
    return value


def check_content_type(taken: Collection[str] = ()) -> None:
    """Refuse (415) a body that is neither JSON nor CSV, or not what this address takes in their place."""
    has_body = request.method in {"POST", "PUT", "PATCH"} and request.content_length
    if has_body and taken and request.mimetype not in taken:
        abort(415, description=f"Send one of: {', '.join(taken)}.")
    if has_body and not taken and request.mimetype not in {"application/json", "text/csv"}:
        abort(415, description="Send application/json (or text/csv where the address takes it).")


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) != len(pairs):
        raise Malformed("a member occurs twice in one object")
    return members


def _no_constant(name: str) -> NoReturn:
    raise Malformed(f"{name} is not a number")


def _finite(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise Malformed("a number is too large")
    return value


def _bounded(text: str) -> int:
    if len(text) > 19 or abs(int(text)) >= 2**63:
        raise Malformed("a whole number is too large")
    return int(text)


def _check(value: Any, depth: int) -> None:
    if depth > MAX_DEPTH:
        raise Malformed(f"it is nested deeper than {MAX_DEPTH}")
    if isinstance(value, str):
        _check_text(value)
    elif isinstance(value, list):
        for item in value:
            _check(item, depth + 1)
    elif isinstance(value, dict):
        for key, item in value.items():
            _check_text(key)
            _check(item, depth + 1)


def _check_text(text: str) -> None:
    if text.isascii() and text.isprintable():
        return
    if CONTROL.search(text):
        raise Malformed("a text holds a control character")
    if SURROGATE.search(text):
        raise Malformed("a text holds half a surrogate pair")
