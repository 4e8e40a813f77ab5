"""The documented shape of the reorder report."""

from marshmallow import fields

from service.core.fields import AmountForm, Day, Form


class ReorderRow(Form):
    """What to order of one material by when; `packs` is null when no pack size is on record."""

    material = fields.String()
    usable = fields.Nested(AmountForm)
    committed = fields.Nested(AmountForm)
    expected = fields.Nested(AmountForm)
    enough_history = fields.Boolean()
    reorder_point = fields.Nested(AmountForm)
    runs_out_on = Day(allow_none=True)
    order_by = Day(allow_none=True)
    packs = fields.Integer(allow_none=True)
    low = fields.Boolean()
    reasons = fields.List(fields.String())


class ReorderReport(Form):
    """What to order of each material by when."""

    rows = fields.List(fields.Nested(ReorderRow))
