"""The query and the answer of due work."""

from marshmallow import fields

from service.agenda.rules import Kind
from service.core.fields import Form, Instant, QueryWhole, Text


class DueQuery(Form):
    """Which work: until a moment, of one kind."""

    until = Instant(load_default=None)
    assignee = Text(
        longest=80,
        load_default=None,
        metadata={"description": "Work without an assignee is everybody's, and is shown to each."},
    )
    kind = fields.Enum(Kind, by_value=True, load_default=None)
    limit = QueryWhole(least=1, most=200, load_default=200)


class Named(Form):
    """A thing by id and code."""

    id = fields.String()
    code = fields.String()


class DueWorkOut(Form):
    """One piece of work."""

    id = fields.String()
    kind = fields.String()
    due_at = Instant()
    overdue = fields.Boolean()
    title = fields.String()
    detail = fields.String()
    tub = fields.Nested(Named, allow_none=True)
    lots = fields.List(fields.Nested(Named))
    treatment_id = fields.String(allow_none=True)
    step = fields.Integer(allow_none=True)
    fraction = fields.Float(allow_none=True, metadata={"description": "Share of the water to change."})
    redose = fields.Boolean(allow_none=True, metadata={"description": "Whether a dose is poured again."})
    minutes = fields.Integer()


class CalendarAddressOut(Form):
    """That one's calendar has an address."""

    created_at = Instant()


class CalendarAddressWithSecretOut(CalendarAddressOut):
    """An address just made: the only time it is shown."""

    secret = fields.String(
        metadata={"description": "The whole address. Whoever knows it reads due work until it is ended."}
    )
