"""What goes in and out of returns."""

from marshmallow import fields, validate

from service.core.fields import Form, Ref, Text, Whole
from service.journal.web import ActForm
from service.lots.schemas import LotOut


class BackIn(Form):
    """So many of one lot that came back."""

    lot_id = Ref(required=True)
    quantity = Whole(least=1, required=True)


class ReturnIn(ActForm):
    """What a customer sent back of a dispatch."""

    dispatch_id = Ref(required=True)
    lines = fields.List(fields.Nested(BackIn), required=True, validate=validate.Length(1, 200))
    reason = Text(longest=500, required=True)
    treated_with = Text(
        longest=200,
        load_default="unknown",
        metadata={
            "description": "What the customer treated them with, as at receipt: none, unknown, or his words."
        },
    )
    tub_id = Ref(load_default=None, allow_none=True)
    share_water = fields.Boolean(load_default=False, truthy={True}, falsy={False})


class ReturnOut(Form):
    """The new lots, one for each line."""

    dispatch_id = fields.String()
    lots = fields.List(fields.Nested(LotOut))
