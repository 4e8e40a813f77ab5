"""The query and the documented shape of the report of losses."""

from marshmallow import fields, validate

from service.core.fields import AmountForm, Day, Form, Text
from service.reports.rules_losses import COUNTED_OVER, COUNTED_SHORT
from service.reports.schemas import ConsumptionCost
from service.stores.rules import Way

HOW = (COUNTED_SHORT, COUNTED_OVER, *(way.value for way in Way))


class LossQuery(Form):
    """Which local days, both included (the last 365 if left out), and of which material (code or id)."""

    since = Day(data_key="from", load_default=None)
    until = Day(data_key="to", load_default=None)
    material = Text(longest=80, load_default=None)


class LossRow(Form):
    """What left stock unused in a month in one way; cost and mass are null where a part of it is unknown.

    `counted_short` is what counts missed, `counted_over` what they found more than was expected (no loss);
    the others are ways of disposal.
    """

    month = fields.String()
    material = fields.String()
    how = fields.String(validate=validate.OneOf(HOW))
    amount = fields.Nested(AmountForm)
    cost = fields.Nested(ConsumptionCost, allow_none=True)
    active_mass = fields.Nested(AmountForm, allow_none=True)
    lines = fields.Integer()


class LossReport(Form):
    """What left stock unused, by month, material and how; reversed lines never happened."""

    since = Day(data_key="from")
    until = Day(data_key="to")
    rows = fields.List(fields.Nested(LossRow))
