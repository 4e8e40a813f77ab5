"""What goes out of the store when a file of deliveries comes in."""

from marshmallow import fields

from service.core.fields import AmountForm, Day, Form, Instant
from service.core.file_forms import BadRowOut
from service.stores.schemas import (
    ContainersOut,
    LabelStrengthOut,
    MoneyOut,
    StockBatchOut,
    StrengthOut,
)


class ReceiptOut(Form):
    """A row of a file as it would be received."""

    line = fields.Integer()
    material = fields.String()
    batch_number = fields.String()
    received = fields.Nested(AmountForm)
    containers = fields.Nested(ContainersOut, allow_none=True)
    usable = fields.Boolean()
    why_not = fields.List(fields.String())
    strength = fields.Nested(LabelStrengthOut, allow_none=True)
    strength_today = fields.Nested(StrengthOut, allow_none=True)
    received_at = Instant()
    made_on = Day(allow_none=True)
    opened_on = Day(allow_none=True)
    expires_on = Day(allow_none=True)
    keeps_until = Day(allow_none=True)
    copper_form = fields.String(allow_none=True)
    drop_ml = fields.Float(allow_none=True)
    shelf_id = fields.String(allow_none=True)
    shelf_celsius = fields.Float()
    cost = fields.Nested(MoneyOut, allow_none=True)


class ReceiptPreviewOut(Form):
    """What a file would do; nothing has been kept."""

    ok = fields.Boolean()
    rows = fields.List(fields.Nested(ReceiptOut))
    problems = fields.List(fields.Nested(BadRowOut))


class ReceiptsOut(Form):
    """The batches that a file brought, in the order of its lines."""

    received = fields.Integer()
    batches = fields.List(fields.Nested(StockBatchOut))
