"""What goes in and out of the stores: materials with their figures."""

from typing import get_args

from marshmallow import fields, validate

from service.core.fields import AmountField, AmountForm, Form, Instant, Number, Text, Whole
from service.reference.words import Grade, Substance
from service.stores.labels import Basis
from service.stores.schemas import MoneyIn, MoneyOut

CODE = validate.Regexp(r"^[a-z0-9]+(-[a-z0-9]+)*$", error="Small letters, digits and hyphens.")
COPPER_FORM = validate.OneOf(["ionic", "amine", "chelate"])
SUBSTANCE = validate.OneOf(get_args(Substance))
GRADE = validate.OneOf(get_args(Grade))
DEVIATION = {"description": "Standard deviation of the days a delivery takes."}
LEVEL = {"description": "Chance that an order comes before the stock is gone."}
ORDER_COST = {"description": "Delivery and work of one order, whatever is in it."}


class MaterialKeepingIn(Form):
    """Days that a container keeps, closed and opened."""

    shelf_life_days = Whole(least=1, most=10_000, required=True)
    opened_life_days = Whole(least=1, most=10_000, required=True)
    source = Text(longest=500, required=True)
    grade = fields.String(required=True, validate=GRADE)


class MaterialHazardIn(Form):
    """A hazard code with a statement in one's own words."""

    code = Text(longest=20, required=True)
    statement = Text(longest=500, required=True)


class MaterialSafetyIn(Form):
    """Hazards and what to do about them; the supplier's label and safety data sheet come first."""

    signal_word = fields.String(validate=validate.OneOf(["danger", "warning"]))
    hazards = fields.List(
        fields.Nested(MaterialHazardIn), load_default=list, validate=validate.Length(max=30)
    )
    protective_wear = fields.List(Text(longest=200), required=True, validate=validate.Length(1, 20))
    disposal = Text(required=True)
    cautions = fields.List(Text(longest=500), required=True, validate=validate.Length(1, 20))
    source = Text(longest=500, required=True)
    grade = fields.String(required=True, validate=GRADE)


class MaterialPatch(Form):
    """What may change about a material."""

    name = Text(longest=200)
    lead_time_days = Whole(most=365)
    lead_time_deviation_days = Number(least=0, most=365, metadata=DEVIATION)
    service_level = Number(least=0.51, most=0.9999, metadata=LEVEL)
    pack = AmountField("volume", "mass", allow_none=True)
    least_order = AmountField("volume", "mass", allow_none=True)
    pack_cost = fields.Nested(MoneyIn, allow_none=True)
    order_cost = fields.Nested(MoneyIn, allow_none=True, metadata=ORDER_COST)


class MaterialIn(Form):
    """A material of the house's own."""

    code = fields.String(required=True, validate=[CODE, validate.Length(max=80)])
    name = Text(longest=200, required=True)
    substance = fields.String(required=True, validate=SUBSTANCE)
    form = fields.String(required=True, validate=validate.OneOf(["liquid", "solid"]))
    strength_basis = fields.List(
        fields.String(validate=validate.OneOf([basis.value for basis in Basis])),
        required=True,
        validate=validate.Length(1, 7),
    )
    nominal_g_per_l = Number(above=0, most=2000, load_default=None, allow_none=True)
    content_fraction = Number(above=0, most=1, load_default=None, allow_none=True)
    density_g_per_ml = Number(above=0, most=20, load_default=None, allow_none=True)
    copper_form = fields.String(load_default=None, allow_none=True, validate=COPPER_FORM)
    keeping = fields.Nested(MaterialKeepingIn, required=True)
    safety = fields.Nested(MaterialSafetyIn, required=True)
    never_with = fields.List(fields.String(validate=SUBSTANCE), load_default=list)
    source = Text(longest=500, required=True)
    grade = fields.String(required=True, validate=GRADE)
    lead_time_days = Whole(most=365, load_default=7)
    lead_time_deviation_days = Number(least=0, most=365, load_default=0.0, metadata=DEVIATION)
    service_level = Number(least=0.51, most=0.9999, load_default=0.95, metadata=LEVEL)
    pack = AmountField("volume", "mass", load_default=None, allow_none=True)
    least_order = AmountField("volume", "mass", load_default=None, allow_none=True)
    pack_cost = fields.Nested(MoneyIn, load_default=None, allow_none=True)
    order_cost = fields.Nested(MoneyIn, load_default=None, allow_none=True, metadata=ORDER_COST)


class MaterialOut(Form):
    """A material with its figures, each group with source and grade."""

    id = fields.String()
    code = fields.String()
    name = fields.String()
    substance = fields.String()
    form = fields.String()
    base_unit = fields.String()
    figures = fields.Dict()
    reference_version = fields.String(allow_none=True)
    lead_time_days = fields.Integer()
    lead_time_deviation_days = fields.Float()
    service_level = fields.Float()
    pack = fields.Nested(AmountForm, allow_none=True)
    least_order = fields.Nested(AmountForm, allow_none=True)
    pack_cost = fields.Nested(MoneyOut, allow_none=True)
    order_cost = fields.Nested(MoneyOut, allow_none=True)
    created_at = Instant()
    version = fields.Integer()
