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
    substance = fields.String(metadata={"description": "What the active masses are of."})
    active_mass = fields.Nested(AmountForm, allow_none=True)
    active_mass_discharged = fields.Nested(AmountForm, allow_none=True)
    active_mass_after_neutralising = fields.Nested(AmountForm, allow_none=True)


class ConsumptionReport(Form):
    """What was used, what it cost, and the active mass poured away, before and after neutralising.

    `active_mass_discharged` is before; after, what the neutralisers recorded for the same treatments took for
    sure is gone (a gram of thiosulfate takes a seventh of a gram of chlorine). Only chlorine is reckoned.
    By lot or by supplier of the plants, what a treatment used is shared in equal parts by its lots.
    """

    since = Day(data_key="from")
    until = Day(data_key="to")
    by = fields.String()
    rows = fields.List(fields.Nested(ConsumptionRow))
