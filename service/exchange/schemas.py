"""What goes in and out of the exchange: events."""

import re

from marshmallow import ValidationError, fields

from service.core.fields import Form, Instant, QueryWhole
from service.exchange.rules_told import EventType

PLACE = re.compile(r"^([0-9]{1,18})(?:-([0-9]{1,6}))?$")


class PlaceField(fields.String):
    """A place in the order of events, as an answer gave it."""

    def _deserialize(self, value: object, attr: str | None, data: object, **kwargs: object) -> str:
        if not isinstance(value, str) or not PLACE.fullmatch(value):
            raise ValidationError("Not a place in the order of events: send what an answer gave as `after`.")
        return value


class EventsQuery(Form):
    """Which events: after a place, of one type."""

    after = PlaceField(load_default="0", metadata={"description": "`after` of the last answer; 0 at first."})
    limit = QueryWhole(least=1, most=200, load_default=50)
    type = fields.Enum(EventType, by_value=True, load_default=None)


class EventOut(Form):
    """A CloudEvents 1.0 envelope (structured JSON)."""

    specversion = fields.String(required=True)
    id = fields.String(required=True)
    source = fields.String(required=True)
    type = fields.String(required=True)
    subject = fields.String(required=True)
    time = Instant(required=True)
    recordedtime = Instant(required=True)
    sequence = fields.String(required=True)
    datacontenttype = fields.String(required=True)
    data = fields.Dict(required=True)


class EventsOut(Form):
    """Events in order; go on with `after`, at once when `next` is not null."""

    items = fields.List(fields.Nested(EventOut))
    next = fields.String(allow_none=True)
    after = fields.String()
