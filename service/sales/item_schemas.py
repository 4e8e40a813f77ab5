"""What goes in and out of sales items."""

from marshmallow import fields, validate

from service.core.fields import Form, Instant, Ref, Text
from service.core.gs1 import GTIN
from service.core.gs1_field import Gs1Key
from service.core.pages import PageForm
from service.lots.rules import UnitOfSale

UNIT = validate.OneOf([unit.value for unit in UnitOfSale])


class SalesItemPatch(Form):
    """What may change about a sales item; its plant and unit may not: name another one."""

    sku = Text(longest=80)
    gtin = Gs1Key(GTIN, allow_none=True)


class SalesItemIn(SalesItemPatch):
    """What a plant in one unit of sale is called."""

    sku = Text(longest=80, required=True)
    plant_id = Ref(required=True)
    unit_of_sale = fields.String(required=True, validate=UNIT)
    gtin = Gs1Key(GTIN, load_default=None, allow_none=True)


class SalesItemQuery(PageForm):
    """Which sales items."""

    plant = Ref(load_default=None)
    sku = Text(longest=80, load_default=None)


class SalesItemOut(Form):
    """A sales item."""

    id = fields.String()
    sku = fields.String()
    plant_id = fields.String()
    scientific_name = fields.String()
    unit_of_sale = fields.String()
    gtin = fields.String(allow_none=True)
    created_at = Instant()
    version = fields.Integer()
