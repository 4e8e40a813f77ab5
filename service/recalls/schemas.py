"""What goes in and out of tracing."""

from marshmallow import fields

from service.core.fields import Form, Instant
from service.recalls.rules_tracing import Direction


class TraceQuery(Form):
    """Which way, and the moment to follow from (back: up to)."""

    direction = fields.Enum(Direction, by_value=True, load_default=Direction.FORWARD)
    at = Instant(
        load_default=None,
        metadata={
            "description": "Followed from this moment on, the receipt if left out; back: up to it, now."
        },
    )


class HopOut(Form):
    """One step of a way, in the order of time."""

    way = fields.String()
    from_lot_id = fields.String()
    to_lot_id = fields.String()
    from_tub_id = fields.String(allow_none=True)
    to_tub_id = fields.String(allow_none=True)
    tool_id = fields.String(allow_none=True)
    bath_id = fields.String(allow_none=True)
    since = Instant()
    until = Instant(allow_none=True)
    words = fields.String()


class ReachedOut(Form):
    """A lot within reach: its earliest arrival (back: the last moment it could have given) and the way."""

    id = fields.String()
    code = fields.String()
    state = fields.String()
    left = fields.Integer()
    at = Instant()
    path = fields.List(fields.Nested(HopOut))


class TubOut(Form):
    """A tub in which a reached lot stood since."""

    id = fields.String()
    code = fields.String()


class ServedOut(Form):
    """What a customer got; order and customer are null for roles that need not know them."""

    dispatch_id = fields.String()
    order_ref = fields.String(allow_none=True)
    customer_ref = fields.String(allow_none=True)
    at = Instant()
    lot_id = fields.String()
    lot_code = fields.String()
    unit_of_sale = fields.String()
    quantity = fields.Integer()


class TraceOut(Form):
    """What is within reach of a lot."""

    lot_id = fields.String()
    direction = fields.String()
    at = Instant()
    lots = fields.List(fields.Nested(ReachedOut))
    tubs = fields.List(fields.Nested(TubOut))
    customers = fields.List(fields.Nested(ServedOut))
