"""What goes in and out of stock that is used by hand."""

from marshmallow import fields

from service.core.fields import AmountField, AmountForm, Form, Instant, Ref, Text
from service.journal.web import ActForm


class StockUseIn(ActForm):
    """Stock that a test used: a reagent of a kit, a sample whose strength was read, drops on a trial stem."""

    material = Text(longest=80, required=True, metadata={"description": "Its code."})
    quantity = AmountField("volume", "mass", required=True)
    batch_id = Ref(load_default=None, allow_none=True)
    note = Text(longest=500, required=True)


class StockUseLineOut(Form):
    """What was taken from one batch."""

    batch_id = fields.String()
    amount = fields.Nested(AmountForm)


class StockUseOut(Form):
    """What a test used."""

    id = fields.String()
    material = fields.String()
    drawn = fields.List(fields.Nested(StockUseLineOut))
    at = Instant()
