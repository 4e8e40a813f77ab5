"""The query and the documented shape of the report of outcomes."""

from marshmallow import fields

from service.core.fields import Day, Form
from service.reports.rules_outcomes import OutcomesBy


class OutcomeQuery(Form):
    """Lots received in which local days, both included (the last 365 if left out), and by what."""

    since = Day(data_key="from", load_default=None)
    until = Day(data_key="to", load_default=None)
    by = fields.Enum(OutcomesBy, by_value=True, load_default=OutcomesBy.PROTOCOL)


class LimitsOut(Form):
    """An estimate with its 95 % limits."""

    estimate = fields.Float()
    low = fields.Float()
    high = fields.Float()


class ShareOut(Form):
    """So many of so many; the share (Wilson) from ten on."""

    count = fields.Integer()
    of = fields.Integer()
    share = fields.Nested(LimitsOut, allow_none=True)


class DaysOut(Form):
    """Days from receipt to the first clearance: the median of `n` lots, its limits from six on."""

    n = fields.Integer()
    median = fields.Float(allow_none=True)
    limits = fields.Nested(LimitsOut, allow_none=True)


class UnitsOut(Form):
    """Units and what was lost of them by cause; the share from ten lots on, widened as lots differ."""

    n = fields.Integer()
    lost = fields.Dict()
    share = fields.Nested(LimitsOut, allow_none=True)


class CostOut(Form):
    """Material spent per cleared unit; null where a part is unknown or in another currency."""

    value = fields.Float()
    currency = fields.String()
    limits = fields.Nested(LimitsOut, allow_none=True)


class PriorOut(Form):
    """What a supplier's record makes the chance that none is left begin with, for one pest.

    His newest 50 lots that came untreated, as known now, whatever days were asked for: a look that found the
    pest stands for those it would have missed, a confirmed escape for a lot; clean lots count from five on.
    `alpha`, `beta`: the standard policy's Beta prior after them; `share`: of lots infested, mean and limits.
    """

    pest = fields.String()
    lots = fields.Float()
    infested = fields.Float()
    clean_counts = fields.Boolean()
    alpha = fields.Float()
    beta = fields.Float()
    share = fields.Nested(LimitsOut)
    expected_units = fields.Float(metadata={"description": "Before any kill is credited."})


class OutcomeRow(Form):
    """What became of the lots of one key.

    `live_after`: lots with a live find after their last treatment, of those looked at since; by pest,
    finds of that pest. `infested_on_arrival`: by the first look before any treatment, for lots as they were
    received (no parts split off) and pests that start quarantine anew. `freedom_prior`: by supplier only.
    """

    key = fields.String()
    lots = fields.Integer()
    live_after = fields.Nested(ShareOut)
    not_looked_at = fields.Integer(metadata={"description": "Treated, and not looked at since."})
    infested_on_arrival = fields.Nested(ShareOut)
    days_to_release = fields.Nested(DaysOut)
    units = fields.Nested(UnitsOut)
    cost_per_cleared_unit = fields.Nested(CostOut, allow_none=True)
    freedom_prior = fields.List(fields.Nested(PriorOut))


class OutcomeReport(Form):
    """What became of ordinary lots; lots of trials are left out, they were infested on purpose."""

    since = Day(data_key="from")
    until = Day(data_key="to")
    by = fields.String()
    rows = fields.List(fields.Nested(OutcomeRow))
