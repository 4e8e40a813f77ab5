"""The query and the documented shape of the consumption report."""

from marshmallow import fields

from service.core.fields import AmountForm, Day, Form
from service.reports.rules import By


class ConsumptionQuery(Form):
    """Which local days, both included (the last 30 if left out), and by what."""

    since = Day(data_key="from", load_default=None)
    until = Day(data_key="to", load_default=None)
    by = fields.Enum(By, by_value=True, load_default=By.MATERIAL)


class ConsumptionCost(Form):
    """Money as exact text."""

    value = fields.String()
    currency = fields.String()


class ConsumptionRow(Form):
    """What was used of one material; null where a part of it is unknown or in another currency."""

    key = fields.Dict()
    material = fields.String()
    used = fields.Nested(AmountForm)
    cost = fields.Nested(ConsumptionCost, allow_none=True)
    active_mass = fields.Nested(AmountForm, allow_none=True)
    active_mass_discharged = fields.Nested(AmountForm, allow_none=True)


class ConsumptionReport(Form):
    """What was used, what it cost, and the active mass poured away, before neutralising.

    By lot or by supplier of the plants, what a treatment used is shared in equal parts by its lots.
    """

    since = Day(data_key="from")
    until = Day(data_key="to")
    by = fields.String()
    rows = fields.List(fields.Nested(ConsumptionRow))
