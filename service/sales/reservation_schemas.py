"""What goes in and out of reservations."""

from collections.abc import Mapping
from typing import Any

from marshmallow import ValidationError, fields, validate, validates_schema

from service.core.fields import Form, Instant, Ref, Text, Whole
from service.core.pages import PageForm
from service.journal.web import ActForm
from service.lots.rules import UnitOfSale
from service.sales.rules_reservations import Status


class PartIn(Form):
    """So many of a lot, or of what is sold as a SKU, or of a plant in a unit of sale.

    Unless a lot is named, the lot cleared first gives first.
    """

    sku = Text(longest=80, load_default=None, allow_none=True)
    lot_id = Ref(load_default=None, allow_none=True)
    plant_id = Ref(load_default=None, allow_none=True)
    unit_of_sale = fields.String(
        load_default=None, allow_none=True, validate=validate.OneOf([unit.value for unit in UnitOfSale])
    )
    quantity = Whole(least=1, required=True)

    @validates_schema
    def _one_way(self, data: Mapping[str, Any], **_: Any) -> None:
        said = {name for name in ("lot_id", "sku", "plant_id", "unit_of_sale") if data.get(name) is not None}
        if said not in ({"lot_id"}, {"sku"}, {"plant_id", "unit_of_sale"}):
            raise ValidationError("Name a lot, or a SKU, or a plant and its unit of sale.", "lot_id")


class ReservationIn(ActForm):
    """Units promised to one order."""

    order_ref = Text(longest=80, required=True)
    customer_ref = Text(longest=200, load_default=None, allow_none=True)
    expires_at = Instant(
        load_default=None,
        allow_none=True,
        metadata={"description": "When it runs out unless confirmed; in 30 minutes if left out."},
    )
    lines = fields.List(fields.Nested(PartIn), required=True, validate=validate.Length(1, 200))


class ReservationQuery(PageForm):
    """Which reservations."""

    order_ref = Text(longest=80, load_default=None)
    status = fields.String(load_default=None, validate=validate.OneOf([status.value for status in Status]))


class PromisedOut(Form):
    """So many of one lot: what is neither sent nor freed is owed."""

    lot_id = fields.String()
    lot_code = fields.String()
    sku = fields.String(allow_none=True)
    quantity = fields.Integer()
    sent = fields.Integer()
    freed = fields.Integer()


class ReservationOut(Form):
    """A reservation with its lines."""

    id = fields.String()
    order_ref = fields.String()
    customer_ref = fields.String(allow_none=True)
    status = fields.String()
    expires_at = Instant(allow_none=True)
    at = Instant()
    by = fields.String()
    version = fields.Integer()
    lines = fields.List(fields.Nested(PromisedOut))
