"""What goes in and out of complaints."""

from typing import Any

from marshmallow import ValidationError, fields, validates_schema

from service.core.fields import Form, Instant, Number, Ref, Text, Whole
from service.core.pages import PageForm
from service.journal.web import ActForm
from service.recalls.rules import Settlement, Verdict
from service.recalls.schemas import ReachedOut, ServedOut


class ComplaintIn(ActForm):
    """What a customer found, against exactly one dispatch or certificate; `lot_id` narrows a dispatch."""

    dispatch_id = Ref(load_default=None, allow_none=True)
    certificate_serial = Text(longest=26, load_default=None, allow_none=True)
    lot_id = Ref(load_default=None, allow_none=True)
    what = Text(longest=1000, required=True)
    pest = Text(longest=80, load_default=None, allow_none=True)
    size_mm = Number(above=0, most=1000, load_default=None, allow_none=True)
    days_since_delivery = Whole(most=3650, load_default=None, allow_none=True)
    photo = fields.Boolean(load_default=False, truthy={True}, falsy={False})
    other_new_plants = fields.Boolean(
        load_default=None,
        allow_none=True,
        truthy={True},
        falsy={False},
        metadata={"description": "Whether other new plants came into that tank in the eight weeks before."},
    )

    confirm_duplicate = fields.Boolean(
        load_default=False,
        truthy={True},
        falsy={False},
        metadata={
            "description": "Another complaint of the same pest against the same thing, not typed twice."
        },
    )

    @validates_schema
    def _against_one(self, body: dict[str, Any], **_: Any) -> None:
        if (body.get("dispatch_id") is None) == (body.get("certificate_serial") is None):
            raise ValidationError("Name a dispatch or a certificate.", "dispatch_id")


class VerdictIn(ActForm):
    """Whose pest it was, and what the customer got."""

    verdict = fields.Enum(Verdict, by_value=True, required=True)
    settlement = fields.Enum(Settlement, by_value=True, load_default=Settlement.NONE)
    claim_on_supplier = fields.Boolean(load_default=False, truthy={True}, falsy={False})
    reason = Text(longest=500, required=True)
    pest = Text(
        longest=80,
        load_default=None,
        allow_none=True,
        metadata={"description": "What it was after all; as the complaint says if left out."},
    )


class ComplaintQuery(PageForm):
    """Which complaints."""

    judged = fields.Boolean(load_default=None, truthy={"true"}, falsy={"false"})
    lot = Ref(load_default=None)


class ComplaintRowOut(Form):
    """A complaint as listed."""

    id = fields.String()
    dispatch_id = fields.String(allow_none=True)
    certificate_id = fields.String(allow_none=True)
    what = fields.String()
    pest = fields.String(allow_none=True)
    size_mm = fields.Float(allow_none=True)
    days_since_delivery = fields.Integer(allow_none=True)
    photo = fields.Boolean()
    other_new_plants = fields.Boolean(allow_none=True)
    at = Instant()
    by = fields.String()
    verdict = fields.String(allow_none=True)
    settlement = fields.String(allow_none=True)
    claim_on_supplier = fields.Boolean(allow_none=True)
    judged_at = Instant(allow_none=True)
    judged_by = fields.String(allow_none=True)
    verdict_reason = fields.String(allow_none=True)
    version = fields.Integer()


class ComplaintLotOut(Form):
    """A lot complained of: no hold when nothing was left; the first look at it since."""

    lot_id = fields.String()
    lot_code = fields.String()
    hold_id = fields.String(allow_none=True)
    ended = fields.Boolean()
    looked_at = Instant(allow_none=True)


class TracedOut(Form):
    """What is within reach of the lots, where it may have come from, and who got what."""

    forward = fields.List(fields.Nested(ReachedOut))
    back = fields.List(fields.Nested(ReachedOut))
    customers = fields.List(fields.Nested(ServedOut))


class ComplaintOut(ComplaintRowOut):
    """A complaint with its lots and the trace it starts."""

    lots = fields.List(fields.Nested(ComplaintLotOut))
    trace = fields.Nested(TracedOut)
