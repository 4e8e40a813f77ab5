"""What routes that take a file of rows share: the body, and how a bad row is told."""

from typing import Any

from flask import abort, request
from marshmallow import fields

from service.core.fields import Form
from service.core.reasons import Reason

CSV = "text/csv"


class BadRowOut(Form):
    """What is wrong with a row: its line as an editor counts, the column, and what to do."""

    line = fields.Integer()
    field = fields.String(allow_none=True)
    code = fields.String()
    detail = fields.String()


def csv_body() -> bytes:
    """The file that was sent; anything else is a 415."""
    if request.mimetype != CSV:
        abort(415, description="Send the file as text/csv.")
    return request.get_data()


def bad_row(reason: Reason) -> dict[str, Any]:
    """A reason that points at a line of a file, as answered."""
    _, _, line, *column = str(reason.pointer).split("/")
    return {
        "line": int(line),
        "field": column[0] if column else None,
        "code": reason.code,
        "detail": reason.detail,
    }
