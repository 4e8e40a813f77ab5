"""Addresses of labels: for lots and tubs, on sheets of paper."""

from collections.abc import Mapping
from typing import Any

from flask import Response
from marshmallow import ValidationError, fields, validate, validates_schema

from service.accounts.rules import READERS
from service.clearance import labels
from service.clearance.label_pdf import labels_pdf
from service.clearance.rules_sheets import A4, LETTER, SHEETS, Sheet, sheet_reasons
from service.clearance.rules_words import word_reasons
from service.core.errors import Invalid, Refused
from service.core.fields import Form, QueryWhole, Ref
from service.core.http import allow, router, session, settings

blueprint = router("labels", "Labels for lots and tubs, with QR codes.")

PAGES = {"a4": A4, "letter": LETTER}
MOST = 500  # labels in one file
OWN = ("page", "columns", "rows", "width", "height", "left", "top", "across", "down")
BINARY = {"type": "string", "format": "binary"}
PDF = {"responses": {200: {"content": {"application/pdf": {"schema": BINARY}}}}}


def _length(says: str) -> fields.Float:
    return fields.Float(
        load_default=None, allow_nan=False, validate=validate.Range(0, 500), metadata={"description": says}
    )


class LabelQuery(Form):
    """Which labels on which sheet; all lengths in millimetres."""

    lots = fields.String(load_default="", metadata={"description": "Ids of lots, joined by commas."})
    tubs = fields.String(load_default="", metadata={"description": "Ids of tubs, joined by commas."})
    copies = QueryWhole(least=1, most=100, load_default=1)
    skip = QueryWhole(
        least=0, most=100, load_default=0, metadata={"description": "Places already used on the first page."}
    )
    sheet = fields.String(load_default=None, validate=validate.OneOf(sorted(SHEETS)))
    page = fields.String(load_default=None, validate=validate.OneOf(sorted(PAGES)))
    columns = QueryWhole(least=1, most=20, load_default=None)
    rows = QueryWhole(least=1, most=50, load_default=None)
    width = _length("Of a label.")
    height = _length("Of a label.")
    left = _length("From the edge of the page to the first label.")
    top = _length("From the edge of the page to the first label.")
    across = _length("From the left edge of one label to that of the next.")
    down = _length("From the top edge of one label to that of the next.")

    @validates_schema
    def one_sheet(self, data: Mapping[str, Any], **_: Any) -> None:
        """A sheet by name, or all figures of one's own, or neither."""
        own = [name for name in OWN if data[name] is not None]
        if own and data["sheet"] is not None:
            raise ValidationError("Give a sheet by name or figures of your own, not both.", "sheet")
        if own and len(own) < len(OWN):
            missing = ", ".join(name for name in OWN if name not in own)
            raise ValidationError(f"A sheet of your own needs all its figures; missing: {missing}.", own[0])


@blueprint.route("/labels.pdf")
@allow(READERS)
@blueprint.arguments(LabelQuery, location="query")
@blueprint.doc(**PDF)  # type: ignore[untyped-decorator]  # flask-smorest ships no types
@blueprint.response(200)
def print_labels(asked: Mapping[str, Any]) -> Response:
    """Print labels: the code leads to the check page of a certified lot, else to the lot or tub itself.

    Sheets: A4 or US Letter by name (columns x rows), or figures of your own. Print at full size.
    """
    sheet = _sheet(asked)
    lots, tubs = _ids(asked["lots"], "lots"), _ids(asked["tubs"], "tubs")
    if not 1 <= (len(lots) + len(tubs)) * asked["copies"] <= MOST:
        raise Invalid.at("#/lots", f"Name lots or tubs, for at most {MOST} labels in all.")
    found = labels.labels(session(), lots, tubs, settings().public_url)
    Refused.unless_empty("official-words", word_reasons(text for each in found for text in each.lines))
    each = [label for label in found for _ in range(asked["copies"])]
    response = Response(labels_pdf(each, sheet, asked["skip"]), content_type="application/pdf")
    response.headers["Content-Disposition"] = 'inline; filename="labels.pdf"'
    return response


def _sheet(asked: Mapping[str, Any]) -> Sheet:
    if asked["page"] is None:
        sheet = SHEETS[asked["sheet"] or labels.usual_sheet(session())]
    else:
        sheet = Sheet(**{**{name: asked[name] for name in OWN}, "page": PAGES[asked["page"]]})
    reasons = sheet_reasons(sheet)
    if asked["skip"] >= sheet.places:
        raise Invalid.at("#/skip", f"The sheet has {sheet.places} labels.")
    if reasons:
        raise Invalid("validation", " ".join(reason.detail for reason in reasons), reasons)
    return sheet


def _ids(joined: str, name: str) -> list[str]:
    try:
        return [Ref().deserialize(part.strip()) for part in joined.split(",") if part.strip()]
    except ValidationError as problem:
        raise Invalid.at(f"#/{name}", "Ids of things, joined by commas.") from problem
