"""What goes out of the catalogue when a file of plants comes in."""

from marshmallow import fields

from service.catalogue.schemas import PlantOut
from service.core.fields import Form
from service.core.file_forms import BadRowOut


class PlantRowOut(Form):
    """A row of a file as the plant it would be."""

    line = fields.Integer()
    code = fields.String()
    scientific_name = fields.String()
    trade_names = fields.List(fields.String())
    synonyms = fields.List(fields.String())
    growth_form = fields.String()
    look_class = fields.String()


class PlantPreviewOut(Form):
    """What a file would do; nothing has been kept."""

    ok = fields.Boolean()
    rows = fields.List(fields.Nested(PlantRowOut))
    problems = fields.List(fields.Nested(BadRowOut))


class PlantsAddedOut(Form):
    """The plants that a file brought, in the order of its lines."""

    added = fields.Integer()
    plants = fields.List(fields.Nested(PlantOut))
