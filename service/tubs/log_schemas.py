"""What goes out of the tubs when a logger's file is only shown."""

from marshmallow import fields

from service.core.fields import Form, Instant
from service.core.file_forms import BadRowOut

LOG = ("recorded", "repeated", "from", "to")


class LogPreviewOut(Form):
    """What a file would do; nothing has been kept. Of a good one how many readings, from when to when."""

    ok = fields.Boolean()
    problems = fields.List(fields.Nested(BadRowOut))
    recorded = fields.Integer(metadata={"description": "Readings that the tub has not."})
    repeated = fields.Integer(metadata={"description": "Readings that it has."})
    first_at = Instant(data_key="from")
    last_at = Instant(data_key="to")
