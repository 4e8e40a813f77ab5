"""What goes in and out of the catalogue."""

from marshmallow import fields, validate

from service.catalogue.rules import Level, LookClass
from service.core.fields import Form, Instant, Text
from service.core.pages import PageForm

CODE = validate.Regexp(r"^[a-z0-9]+(-[a-z0-9]+)*$", error="Small letters, digits and hyphens.")
JURISDICTION = validate.Regexp(
    r"^[A-Z]{2}(-[A-Z0-9]{1,3})?$", error="EU, a country (ISO 3166-1) like US, or a part of one like US-VT."
)
COUNTRY = validate.Regexp(r"^[A-Z]{2}$", error="An ISO 3166-1 alpha-2 code, like PT.")


class SupplierIn(Form):
    """A supplier to add."""

    name = Text(longest=200, required=True)
    country = fields.String(required=True, validate=COUNTRY)
    registration_number = Text(longest=80, load_default=None, allow_none=True)
    outdoor_grown = fields.Boolean(load_default=False, truthy={True}, falsy={False})
    in_vitro = fields.Boolean(load_default=False, truthy={True}, falsy={False})


class SupplierPatch(Form):
    """What may change about a supplier."""

    name = Text(longest=200)
    country = fields.String(validate=COUNTRY)
    registration_number = Text(longest=80, allow_none=True)
    outdoor_grown = fields.Boolean(truthy={True}, falsy={False})
    in_vitro = fields.Boolean(truthy={True}, falsy={False})
    active = fields.Boolean(truthy={True}, falsy={False})


class SupplierOut(Form):
    """A supplier."""

    id = fields.String()
    name = fields.String()
    country = fields.String()
    registration_number = fields.String(allow_none=True)
    outdoor_grown = fields.Boolean()
    in_vitro = fields.Boolean(metadata={"description": "Grows in sealed cups, on gel."})
    active = fields.Boolean()
    created_at = Instant()
    version = fields.Integer()


class SupplierQuery(PageForm):
    """Which suppliers."""

    active = fields.Boolean(load_default=None, truthy={"true"}, falsy={"false"})


class RestrictionIn(Form):
    """An official list that names the plant: where it binds, what it is called, since when, who says so."""

    jurisdiction = fields.String(required=True, validate=JURISDICTION)
    list = Text(longest=300, required=True)
    source = Text(longest=500, required=True)
    date = fields.String(
        load_default=None,
        allow_none=True,
        validate=validate.Regexp(
            r"^\d{4}(-\d{2}-\d{2})?$", error="A year or a day, like 2019 or 2019-08-15."
        ),
    )
    scientific_name = Text(longest=200)
    synonyms = fields.List(Text(longest=200), validate=validate.Length(max=50))
    grade = Text(longest=40)


class PlantPatch(Form):
    """What may change about a plant."""

    scientific_name = Text(longest=200)
    trade_names = fields.List(Text(longest=200), validate=validate.Length(max=50))
    synonyms = fields.List(Text(longest=200), validate=validate.Length(max=50))
    growth_form = Text(longest=40)
    look_class = fields.String(validate=validate.OneOf([value.value for value in LookClass]))
    restricted = fields.List(fields.Nested(RestrictionIn), validate=validate.Length(max=50))


class PlantIn(PlantPatch):
    """A plant to add."""

    code = fields.String(required=True, validate=[CODE, validate.Length(max=80)])
    scientific_name = Text(longest=200, required=True)
    trade_names = fields.List(Text(longest=200), load_default=list, validate=validate.Length(max=50))
    synonyms = fields.List(Text(longest=200), load_default=list, validate=validate.Length(max=50))
    growth_form = Text(longest=40, required=True)
    look_class = fields.String(required=True, validate=validate.OneOf([value.value for value in LookClass]))
    restricted = fields.List(
        fields.Nested(RestrictionIn), load_default=list, validate=validate.Length(max=50)
    )


class ToleranceIn(Form):
    """How a plant takes a method."""

    level = fields.Enum(Level, by_value=True, required=True)
    grade = Text(longest=40, load_default="own experience")
    source = Text(longest=500, required=True)


class PlantOut(Form):
    """A plant as listed."""

    id = fields.String()
    code = fields.String()
    scientific_name = fields.String()
    trade_names = fields.List(fields.String())
    synonyms = fields.List(fields.String())
    growth_form = fields.String()
    look_class = fields.String()
    restricted = fields.List(fields.Dict())
    created_at = Instant()
    version = fields.Integer()


class ToleranceOut(Form):
    """How a plant takes one method."""

    level = fields.String()
    grade = fields.String()
    source = fields.String()


class PlantDetailOut(PlantOut):
    """A plant with its tolerances by method."""

    tolerances = fields.Dict(keys=fields.String(), values=fields.Nested(ToleranceOut))


class OwnFiguresOut(Form):
    """Figures of development that the house learnt, by number, and the published ones they stand for."""

    number = fields.Integer()
    in_place_of = fields.Dict(allow_none=True)


class PestOut(Form):
    """A pest with its figures, each group with source and grade; `development` is what is in force."""

    code = fields.String()
    reference_version = fields.String()
    house = fields.Nested(OwnFiguresOut, allow_none=True)
    regulated = fields.String()
    name = fields.String()
    taxon = fields.String()
    synonyms = fields.List(fields.String())
    category = fields.String()
    stages = fields.List(fields.String())
    recognition = fields.String()
    spread = fields.String()
    lays_eggs = fields.Boolean()
    hatch_gate = fields.Boolean()
    resets_clock = fields.Boolean()
    night_baits = fields.Integer()
    not_covered = fields.List(fields.String())
    eggs = fields.Dict(allow_none=True)
    development = fields.Dict(allow_none=True)
    visibility = fields.Dict(allow_none=True)
    source = fields.String()
    grade = fields.String()
