"""What goes out of a supplier's record."""

from marshmallow import fields

from service.core.fields import Form, Instant


class ArrivalOut(Form):
    """A lot as it came: what its first look before any treatment found alive, what customers found later."""

    lot_id = fields.String()
    lot_code = fields.String()
    received_at = Instant()
    looked_at = Instant(allow_none=True)
    found = fields.List(fields.String())
    escaped = fields.List(fields.String())


class SupplierRecordOut(Form):
    """The last ten lots, the newest first; three infested ones warn before the next order."""

    supplier_id = fields.String()
    lots = fields.List(fields.Nested(ArrivalOut))
    of = fields.Integer()
    infested = fields.Integer()
    claims = fields.Integer()
    warning = fields.String(allow_none=True)
