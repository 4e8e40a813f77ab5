"""What goes out of intake when a file of shipments comes in."""

from marshmallow import fields

from service.core.fields import Form
from service.core.file_forms import BadRowOut
from service.intake.schemas import ShipmentDetailOut


class LineRowOut(ShipmentDetailOut):
    """A shipment of a file as it would be, with the line of the file that it begins on."""

    line = fields.Integer()


class ShipmentPreviewOut(Form):
    """What a file would do; nothing has been kept."""

    ok = fields.Boolean()
    shipments = fields.List(fields.Nested(LineRowOut))
    problems = fields.List(fields.Nested(BadRowOut))


class ShipmentsOut(Form):
    """The shipments that a file brought, in the order of their first lines."""

    registered = fields.Integer()
    shipments = fields.List(fields.Nested(ShipmentDetailOut))
