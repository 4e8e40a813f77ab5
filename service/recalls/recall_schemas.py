"""What goes in and out of recalls."""

from typing import Any

from marshmallow import ValidationError, fields, validate, validates_schema

from service.core.fields import Form, Instant, Ref, Text
from service.core.pages import PageForm
from service.journal.web import ActForm
from service.recalls.origins import FIELDS
from service.recalls.rules import NoticeWay
from service.recalls.schemas import HopOut, ServedOut

NAMES = tuple(FIELDS.values())


class RecallIn(ActForm):
    """What is recalled (exactly one of the ids), why, and from when on it is followed."""

    lot_id = Ref(load_default=None)
    inspection_id = Ref(load_default=None)
    complaint_id = Ref(load_default=None)
    batch_id = Ref(load_default=None)
    supplier_id = Ref(load_default=None)
    reason = Text(longest=500, required=True)
    since = Instant(
        load_default=None,
        metadata={
            "description": "Followed from then on: from the receipt of the lots if left out. "
            "For a batch: uses from then on; for a supplier: what was received from then on."
        },
    )

    @validates_schema
    def _names_one(self, body: dict[str, Any], **_: Any) -> None:
        if sum(body.get(name) is not None for name in NAMES) != 1:
            raise ValidationError(f"Name exactly one of {', '.join(NAMES)}.", NAMES[0])


class NoticeIn(ActForm):
    """How the customer of a dispatch was told."""

    dispatch_id = Ref(required=True)
    way = fields.Enum(NoticeWay, by_value=True, required=True)
    note = Text(longest=500, load_default=None, allow_none=True)


class ClosingIn(ActForm):
    """What came out of it."""

    conclusion = Text(longest=2000, required=True)


class RecallQuery(PageForm):
    """Which recalls."""

    state = fields.String(load_default=None, validate=validate.OneOf(["open", "closed"]))


class RecallRowOut(Form):
    """A recall as listed."""

    id = fields.String()
    origin = fields.String()
    origin_id = fields.String()
    since = Instant(allow_none=True)
    reason = fields.String()
    at = Instant()
    by = fields.String()
    closed_at = Instant(allow_none=True)
    closed_by = fields.String(allow_none=True)
    conclusion = fields.String(allow_none=True)
    version = fields.Integer()


class RecallLotOut(Form):
    """A lot of a recall: no hold when nothing was left; the first look at it since."""

    lot_id = fields.String()
    lot_code = fields.String()
    reached_at = Instant()
    path = fields.List(fields.Nested(HopOut))
    hold_id = fields.String(allow_none=True)
    revoked_serial = fields.String(allow_none=True)
    ended = fields.Boolean()
    looked_at = Instant(allow_none=True)


class CustomerOut(ServedOut):
    """What a customer got, and when he was told."""

    told_at = Instant(allow_none=True)


class ProgressOut(Form):
    """What is still owed."""

    lots = fields.Integer()
    looks_owed = fields.Integer()
    customers = fields.Integer()
    customers_to_tell = fields.Integer()
    newly_within_reach = fields.Integer()


class RecallOut(RecallRowOut):
    """A recall with its lots, customers and progress."""

    state = fields.String()
    lots = fields.List(fields.Nested(RecallLotOut))
    customers = fields.List(fields.Nested(CustomerOut))
    progress = fields.Nested(ProgressOut)
