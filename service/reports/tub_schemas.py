"""What goes in and out of the forecast of tubs."""

from marshmallow import fields

from service.core.fields import Day, Form, QueryWhole


class TubQuery(Form):
    """How far ahead."""

    weeks = QueryWhole(least=1, most=26, load_default=6)


class TubWeekOut(Form):
    """One week: tubs in use, taken by what stands in them, free, needed for what comes, and missing."""

    since = Day()
    until = Day()
    tubs = fields.Integer()
    taken = fields.Integer()
    free = fields.Integer()
    needed = fields.Integer()
    missing = fields.Integer()


class TubForecast(Form):
    """The weeks from today on."""

    rows = fields.List(fields.Nested(TubWeekOut))
