"""Lists: keyset pages with a signed cursor, as JSON or CSV (RFC 8288 link to the next page)."""

import csv
import hashlib
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any
from urllib.parse import urlencode

import orjson
from flask import Response, request
from itsdangerous import BadData, Signer
from itsdangerous.encoding import base64_decode, base64_encode
from marshmallow import fields
from sqlalchemy import ColumnElement, Connection, Select, String, cast, literal, literal_column, tuple_
from sqlalchemy.orm import InstrumentedAttribute, Session

from service.core.errors import Invalid
from service.core.fields import DECIMAL, Form, QueryWhole, Text
from service.core.http import JSON, answer, flat, settings
from service.core.reasons import Reason
from service.core.rows import Listing

Key = ColumnElement[Any] | InstrumentedAttribute[Any]
FORMULA = ("=", "+", "-", "@", "\t", "\r")


class PageForm(Form):
    """The query of every list."""

    limit = QueryWhole(least=1, most=200, load_default=50)
    cursor = Text(longest=1000, load_default=None)


@dataclass(frozen=True)
class Page:
    """Rows of one page and the cursor of the next, None at the end."""

    rows: Sequence[Any]
    next: str | None


@cache
def page_of(schema: type[Form]) -> Form:
    """The documented shape of a page of `schema`."""
    members = {
        "items": fields.List(fields.Nested(schema)),
        "next": fields.String(allow_none=True),
        "__module__": schema.__module__,
    }
    shape: type[Form] = type(f"{schema.__name__}Page", (Form,), members)
    return shape()


def page(
    session: Session,
    statement: Select[Any],
    key: Sequence[Key],
    asked: Mapping[str, Any],
    *,
    descending: bool = False,
) -> Page:
    """Read one page of `statement` ordered by `key`, whose last column is unique.

    `asked` is the loaded query (limit, cursor and the filters the cursor is bound to).
    """
    limit, cursor = asked["limit"], asked["cursor"]
    filters = _fingerprint(asked)
    if cursor is not None:
        last = [
            literal(value, column.type) for value, column in zip(_open(cursor, filters), key, strict=True)
        ]
        place, after = tuple_(*key), tuple_(*last)
        statement = statement.where(place < after if descending else place > after)
    order = [column.desc() if descending else column.asc() for column in key]
    # The limit is written into the text: a bound one keeps PostgreSQL from reusing its plan.
    rows = session.execute(
        statement.add_columns(*key).order_by(*order).limit(literal_column(str(limit + 1)))
    ).all()
    more = len(rows) > limit
    width = len(key)
    upcoming = _seal([_plain(value) for value in rows[limit - 1][-width:]], filters) if more else None
    return Page([tuple(row)[:-width] for row in rows[:limit]], upcoming)


def read_page(
    connection: Connection,
    listing: Listing,
    asked: Mapping[str, Any],
    values: Mapping[str, Any] | None = None,
) -> Page:
    """Read one page of a list: its rows are the items, as they are answered.

    `asked` is the loaded query as for `page`; `values` holds what the filters of the list bind, and those
    filters apply that have a value.
    """
    bound = dict(asked if values is None else values)
    filters, limit = _fingerprint(asked), asked["limit"]
    if asked["cursor"] is not None:
        bound |= {f"after_{n}": value for n, value in enumerate(_open(asked["cursor"], filters))}
    given = frozenset(name for name in listing.where if bound.get(name) is not None)
    statement = listing.statement(given, limit + 1, on=asked["cursor"] is not None)
    rows = connection.execute(statement, bound).all()
    upcoming = _seal(listing.reached(rows[limit - 1]), filters) if len(rows) > limit else None
    return Page(listing.rows.write(rows[:limit]), upcoming)


def listed(
    found: Page,
    shape: Callable[[Any], Mapping[str, Any]] | None = None,
    *,
    by: str = "cursor",
    **more: Any,
) -> Response:
    """Answer a page: CSV when the client prefers it, JSON otherwise (with `more` members).

    `by` is the member of the query that takes the place of the next page.
    """
    items = found.rows if shape is None else [shape(row) for row in found.rows]
    response = _csv(items) if _csv_is_wanted() else answer({"items": items, "next": found.next, **more})
    if found.next:
        query = {**request.args.to_dict(), by: found.next}
        response.headers["Link"] = f'<{request.path}?{urlencode(query)}>; rel="next"'
    response.headers["Vary"] = "Accept"
    return response


def everything(items: Sequence[Mapping[str, Any]]) -> Response:
    """Answer a short list that is never paged (reports, inventory rows)."""
    return listed(Page(items, None))


def rows_or_csv(rows: Sequence[Mapping[str, Any]], **more: Any) -> Response:
    """Answer a report: `{"rows": [...]}` with its other members, or the rows as CSV."""
    return _csv(rows) if _csv_is_wanted() else answer({**more, "rows": rows})


def body_or_csv(body: Mapping[str, Any], rows: Sequence[Mapping[str, Any]]) -> Response:
    """Answer a body, or what of it fits a table as CSV."""
    return _csv(rows) if _csv_is_wanted() else answer(body)


def _csv_is_wanted() -> bool:
    if "text/" not in request.headers.get("Accept", ""):  # nothing to weigh
        return False
    kinds = [JSON, "text/csv"]
    return request.accept_mimetypes.best_match(kinds, default=kinds[0]) == "text/csv"


def _csv(items: Sequence[Mapping[str, Any]]) -> Response:
    rows = [flat(item) for item in items]
    names = list(dict.fromkeys(name for row in rows for name in row))
    text = io.StringIO()
    writer = csv.DictWriter(text, names, lineterminator="\r\n")
    writer.writeheader()
    writer.writerows({name: _harmless(value) for name, value in row.items()} for row in rows)
    return Response(text.getvalue(), content_type="text/csv; charset=utf-8")


def _harmless(value: Any) -> Any:
    # A spreadsheet would run a text that starts like a formula; an amount below zero is only a number.
    risky = isinstance(value, str) and value.startswith(FORMULA) and not DECIMAL.fullmatch(value)
    return f"'{value}" if risky else value


@cache
def _signer(secret: str) -> Signer:
    return Signer(secret, salt="cursor", key_derivation="hmac", digest_method=hashlib.sha256)


def _seal(values: list[Any], filters: str) -> str:
    return _signer(settings().secret).sign(base64_encode(orjson.dumps([filters, *values]))).decode()


def _open(cursor: str, filters: str) -> list[Any]:
    try:
        bound, *values = orjson.loads(base64_decode(_signer(settings().secret).unsign(cursor)))
    except (BadData, ValueError):
        raise _foreign("The cursor is not one of ours; start again without it.") from None
    if bound != filters:
        raise _foreign("The cursor belongs to another query; start again without it.")
    return [datetime.fromisoformat(v["at"]) if isinstance(v, dict) else v for v in values]


def _foreign(detail: str) -> Invalid:
    return Invalid("foreign-cursor", detail, [Reason("foreign-cursor", detail, pointer="#/query/cursor")])


def _plain(value: Any) -> Any:
    return {"at": value.isoformat()} if isinstance(value, datetime) else value


def _fingerprint(asked: Mapping[str, Any]) -> str:
    filters = sorted((name, str(value)) for name, value in asked.items() if name not in {"limit", "cursor"})
    return hashlib.sha256(repr((request.path, filters)).encode()).hexdigest()[:16]


def text_key(column: Key) -> ColumnElement[str]:
    """A nullable text column as a sort key that is never null."""
    return cast(column, String)
