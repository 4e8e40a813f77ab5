"""What goes in and out of sales."""

from collections.abc import Mapping
from typing import Any

from marshmallow import ValidationError, fields, validate, validates_schema

from service.clearance.schemas import CertificateOut
from service.core.fields import Day, Form, Instant, Ref, Text
from service.core.pages import PageForm
from service.journal.web import ActForm
from service.sales.reservation_schemas import PartIn


class PackCheckIn(Form):
    """The last glance before the bag is closed."""

    by = Text(longest=80, required=True)
    at = Instant(required=True)
    ok = fields.Boolean(required=True, truthy={True}, falsy={False}, validate=validate.Equal(True))


class PlaceIn(Form):
    """Where something is sent to, as ISO 3166 names it."""

    country = fields.String(required=True, validate=validate.Regexp(r"^[A-Z]{2}$"))
    subdivision = fields.String(
        load_default=None, allow_none=True, validate=validate.Regexp(r"^[A-Z]{2}-[A-Z0-9]{1,3}$")
    )

    @validates_schema
    def _inside(self, data: Mapping[str, Any], **_: Any) -> None:
        subdivision = data.get("subdivision")
        if subdivision is not None and not subdivision.startswith(f"{data.get('country')}-"):
            raise ValidationError("This subdivision is not of that country.", "subdivision")


class DispatchIn(ActForm):
    """Plants sent to one order."""

    order_ref = Text(longest=80, required=True)
    customer_ref = Text(longest=200, load_default=None, allow_none=True)
    pack_check = fields.Nested(PackCheckIn, load_default=None, allow_none=True)
    with_registration = fields.Boolean(
        load_default=False,
        truthy={True},
        falsy={False},
        metadata={
            "description": "Print the house's plant-health registration number, where law asks for it."
        },
    )
    # The promise that is kept; without lines everything it still owes is sent.
    reservation_id = Ref(load_default=None, allow_none=True)
    ship_to = fields.Nested(
        PlaceIn,
        load_default=None,
        allow_none=True,
        metadata={"description": "Needed when a plant is on an official list anywhere."},
    )
    lines = fields.List(fields.Nested(PartIn), load_default=list, validate=validate.Length(0, 200))


class ParcelsOut(Form):
    """The certificates of one parcel, one for each lot in it; those that ended are among them."""

    items = fields.List(fields.Nested(CertificateOut))


class ReversalIn(ActForm):
    """Why a dispatch is taken back."""

    reason = Text(longest=500, required=True)


class DispatchQuery(PageForm):
    """Which dispatches."""

    order_ref = Text(longest=80, load_default=None)


class LineOut(Form):
    """So many of one lot."""

    lot_id = fields.String()
    lot_code = fields.String()
    sku = fields.String(allow_none=True)
    quantity = fields.Integer()
    returned = fields.Integer(metadata={"description": "Of these; they came back as lots of their own."})


class DispatchOut(Form):
    """A dispatch with its lines."""

    id = fields.String()
    order_ref = fields.String()
    customer_ref = fields.String(allow_none=True)
    at = Instant()
    by = fields.String()
    pack_check = fields.Raw(allow_none=True)
    registration_number = fields.String(allow_none=True)
    reversed_at = Instant(allow_none=True)
    reversal_reason = fields.String(allow_none=True)
    version = fields.Integer()
    lines = fields.List(fields.Nested(LineOut))


class InventoryQuery(Form):
    """Which rows of the inventory; with `after` those that may have changed since that place."""

    plant = Ref(load_default=None)
    sku = Text(longest=80, load_default=None)
    after = fields.String(
        load_default=None,
        validate=validate.Regexp(r"^[0-9]{1,12}-[0-9]{1,16}$", error="Not a place that an answer gave."),
        metadata={"description": "`after` of the last answer."},
    )


class NextOut(Form):
    """What is released on a day to come."""

    on = Day()
    quantity = fields.Integer()


class InventoryRowOut(Form):
    """What a shop may sell of one plant in one unit."""

    plant_id = fields.String()
    scientific_name = fields.String()
    sku = fields.String(allow_none=True)
    gtin = fields.String(allow_none=True)
    unit_of_sale = fields.String()
    cleared = fields.Integer()
    reserved = fields.Integer()
    available = fields.Integer()
    next = fields.List(fields.Nested(NextOut))


class InventoryOut(Form):
    """What may be sold, now and next, and the place to ask for changes from."""

    after = fields.String()
    rows = fields.List(fields.Nested(InventoryRowOut))
