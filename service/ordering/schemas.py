"""The documented shape of the reorder report."""

from marshmallow import fields

from service.core.fields import AmountForm, Day, Form, QueryWhole, Text
from service.stores.schemas import MoneyOut


class ReorderRow(Form):
    """What to order of one material by when; `packs` is null when no pack size is on record."""

    material = fields.String()
    usable = fields.Nested(AmountForm)
    committed = fields.Nested(AmountForm)
    expected = fields.Nested(AmountForm)
    enough_history = fields.Boolean()
    intermittent = fields.Boolean()
    reorder_point = fields.Nested(AmountForm)
    runs_out_on = Day(allow_none=True)
    order_by = Day(allow_none=True)
    packs = fields.Integer(allow_none=True)
    quantity = fields.Nested(AmountForm, allow_none=True)
    cost = fields.Nested(MoneyOut, allow_none=True)
    will_expire = fields.Boolean()
    low = fields.Boolean()
    reasons = fields.List(fields.String())


class ReorderReport(Form):
    """What to order of each material by when."""

    rows = fields.List(fields.Nested(ReorderRow))


class ProjectionQuery(Form):
    """Which material (code; all if left out), and how many days ahead."""

    material = Text(longest=80, load_default=None)
    days = QueryWhole(least=1, most=180, load_default=60)


class ProjectionRow(Form):
    """A material at the end of a day if nothing is ordered; a balance below zero is what is missing."""

    material = fields.String()
    day = Day()
    committed = fields.Nested(AmountForm)
    expected = fields.Nested(AmountForm)
    expires = fields.Nested(AmountForm)
    balance = fields.Nested(AmountForm)


class Projection(Form):
    """The stock day by day."""

    rows = fields.List(fields.Nested(ProjectionRow))
