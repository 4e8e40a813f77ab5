"""What goes in and out of intake."""

from marshmallow import fields, validate

from service.core.fields import Day, Form, Instant, Ref, Text, Whole
from service.core.pages import PageForm
from service.intake.rules import DocumentKind
from service.journal.web import ActForm
from service.lots.rules import UnitOfSale
from service.lots.schemas import StratumForm
from service.photos.rules import MOST_OF_ONE_SHIPMENT
from service.photos.schemas import PhotoNamedIn, PhotoOut

UNIT = validate.OneOf([unit.value for unit in UnitOfSale])
KIND = validate.OneOf([kind.value for kind in DocumentKind])


class DocumentForm(Form):
    """A supplier's paper: evidence, never a decision."""

    kind = fields.String(required=True, validate=KIND)
    number = Text(longest=120, required=True)


class LineIn(Form):
    """One line of a shipment: plants of one kind."""

    plant_id = Ref(required=True)
    quantity = Whole(least=1, required=True)
    unit_of_sale = fields.String(required=True, validate=UNIT)
    stems_per_bunch = Whole(least=1, most=1000, load_default=None, allow_none=True)
    untied = fields.Boolean(load_default=False, truthy={True}, falsy={False})
    kept_in_wool = fields.Boolean(load_default=False, truthy={True}, falsy={False})
    strata = fields.List(
        fields.Nested(StratumForm),
        load_default=list,
        validate=validate.Length(max=20),
        metadata={"description": "Parts that a look must take in each; kinds that were not told apart."},
    )
    bag = Text(longest=80, load_default=None, allow_none=True)
    supplier_treatment = Text(
        longest=200,
        load_default=None,
        allow_none=True,
        metadata={"description": "What the supplier treated them with: none, unknown, or his words."},
    )
    tub_id = Ref(load_default=None, allow_none=True)


class ShipmentIn(Form):
    """A shipment that is here (`received_at`, now if left out), or `expected_on` a day."""

    supplier_id = Ref(required=True)
    received_at = Instant(load_default=None, allow_none=True)
    late_reason = Text(load_default=None, allow_none=True)
    expected_on = Day(load_default=None, allow_none=True)
    claim_before = Instant(
        load_default=None,
        allow_none=True,
        metadata={
            "description": "Until when the supplier takes a complaint: dead, short, pests; with photos."
        },
    )
    documents = fields.List(fields.Nested(DocumentForm), load_default=list, validate=validate.Length(max=50))
    lines = fields.List(fields.Nested(LineIn), required=True, validate=validate.Length(min=1, max=200))
    share_water = fields.Boolean(load_default=False, truthy={True}, falsy={False})
    note = Text(load_default=None, allow_none=True)


class CountIn(Form):
    """What was counted of a line; 0 when it did not come."""

    n = Whole(least=1, required=True)
    quantity = Whole(least=0, required=True)


class ReceiptIn(ActForm):
    """The arrival of an expected shipment; lines that are not named came as ordered."""

    lines = fields.List(fields.Nested(CountIn), load_default=list, validate=validate.Length(max=200))
    share_water = fields.Boolean(load_default=False, truthy={True}, falsy={False})


class ShipmentPhotoIn(PhotoNamedIn):
    """A photo or a PDF that is kept; `kind` when it is a paper, null when it shows the delivery."""

    kind = fields.String(load_default=None, allow_none=True, validate=KIND)


class ShipmentPhotosIn(ActForm):
    """Photos or papers to add to a shipment."""

    photos = fields.List(
        fields.Nested(ShipmentPhotoIn),
        required=True,
        validate=validate.Length(min=1, max=MOST_OF_ONE_SHIPMENT),
    )


class ShipmentQuery(PageForm):
    """Which shipments."""

    supplier = Ref(load_default=None)
    expected = fields.Boolean(load_default=None, truthy={"true"}, falsy={"false"})


class SupplierOf(Form):
    """Who sent it."""

    id = fields.String()
    name = fields.String()


class ShipmentOut(Form):
    """A shipment as listed."""

    id = fields.String()
    code = fields.String()
    supplier = fields.Nested(SupplierOf)
    expected_on = fields.Date(allow_none=True)
    received_at = Instant(allow_none=True)
    claim_before = Instant(allow_none=True)
    supplier_warning = fields.String(allow_none=True)
    documents = fields.List(fields.Nested(DocumentForm))
    note = fields.String(allow_none=True)
    created_at = Instant()
    version = fields.Integer()


class LineOut(Form):
    """One line of a shipment, as ordered."""

    n = fields.Integer()
    plant_id = fields.String()
    quantity = fields.Integer()
    unit_of_sale = fields.String()
    stems_per_bunch = fields.Integer(allow_none=True)
    untied = fields.Boolean()
    kept_in_wool = fields.Boolean()
    strata = fields.List(fields.Nested(StratumForm))
    bag = fields.String(allow_none=True)
    supplier_treatment = fields.String(allow_none=True)
    tub_id = fields.String(allow_none=True)
    lot_id = fields.String(allow_none=True)


class LotOfShipment(Form):
    """A lot that came with a shipment."""

    id = fields.String()
    code = fields.String()
    state = fields.String()


class ShipmentDetailOut(ShipmentOut):
    """A shipment with its lines and lots."""

    lines = fields.List(fields.Nested(LineOut))
    photos = fields.List(fields.Nested(PhotoOut))
    lots = fields.List(fields.Nested(LotOfShipment))
