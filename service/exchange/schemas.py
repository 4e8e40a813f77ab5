"""What goes in and out of the exchange: events, webhooks and their deliveries."""

import re

from marshmallow import ValidationError, fields, validate

from service.core.fields import Form, Instant, QueryWhole, Ref, Text, Whole
from service.core.pages import PageForm
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


class WebhookIn(Form):
    """Where events are to be sent; of which types, all when none is named."""

    name = Text(longest=80, required=True)
    url = Text(longest=2000, required=True)
    types = fields.List(
        fields.Enum(EventType, by_value=True), load_default=list, validate=validate.Length(max=len(EventType))
    )


class WebhookOut(Form):
    """A webhook, without its secret."""

    id = fields.String()
    name = fields.String()
    url = fields.String()
    types = fields.List(fields.String())
    former_until = Instant(allow_none=True)
    created_at = Instant()
    ended_at = Instant(allow_none=True)
    end_reason = fields.String(allow_none=True)
    paused_until = Instant(allow_none=True)
    waiting = fields.Integer()
    parked = fields.Integer()
    version = fields.Integer()


class WebhookSecretOut(WebhookOut):
    """A webhook with its new secret: the only time that it is shown."""

    secret = fields.String()


class RotationIn(Form):
    """How long the secret before goes on to sign beside the new one."""

    overlap_hours = Whole(least=0, most=168, load_default=24)


class DeliveriesQuery(PageForm):
    """Which deliveries of a webhook."""

    state = fields.String(
        validate=validate.OneOf(["waiting", "delivered", "parked"]), load_default=None, allow_none=True
    )


class DeliveryOut(Form):
    """One event owed to one webhook, and how its last attempt ended."""

    id = fields.String()
    webhook_id = fields.String()
    event_id = fields.String()
    type = fields.String()
    subject = fields.String()
    state = fields.String()
    attempts = fields.Integer()
    due_at = Instant()
    created_at = Instant()
    tried_at = Instant(allow_none=True)
    delivered_at = Instant(allow_none=True)
    last_status = fields.Integer(allow_none=True)
    last_error = fields.String(allow_none=True)


class EpcisQuery(PageForm):
    """Which entries: all, or those about one lot."""

    lot = Ref(load_default=None)


class EpcisBody(Form):
    """The events of an EPCIS document."""

    eventList = fields.List(fields.Dict())  # noqa: N815  # the word of the standard


class EpcisDocument(Form):
    """An EPCIS 2.0 document (JSON-LD)."""

    context = fields.List(fields.String(), data_key="@context", required=True)
    type = fields.String(required=True)
    schemaVersion = fields.String(required=True)  # noqa: N815
    creationDate = Instant(required=True)  # noqa: N815
    epcisBody = fields.Nested(EpcisBody, required=True)  # noqa: N815
