"""What goes in and out of shelves: places in the store and their thermometers."""

from marshmallow import fields, validate

from service.core.fields import Form, Instant, Number, Text
from service.journal.web import ActForm

MOST_READINGS = 5_000


class ShelfIn(Form):
    """A place in the store with a thermometer of its own."""

    name = Text(longest=80, required=True)


class ShelfOut(Form):
    """A shelf."""

    id = fields.String()
    name = fields.String()
    created_at = Instant()
    version = fields.Integer()


class ShelfReadingIn(Form):
    """How warm it was at one moment."""

    at = Instant(required=True)
    value = Number(least=-500, most=500, required=True)
    unit = fields.String(required=True, validate=validate.OneOf(["Cel", "[degF]"]))


class ShelfReadingsIn(Form):
    """Readings of a thermometer; a logger is its own late reason."""

    readings = fields.List(
        fields.Nested(ShelfReadingIn), required=True, validate=validate.Length(1, MOST_READINGS)
    )
    late_reason = Text(load_default=None, allow_none=True)
    logger = fields.Boolean(load_default=False, truthy={True}, falsy={False})


class ShelfReadingsOut(Form):
    """How many readings were new and how many known."""

    recorded = fields.Integer()
    repeated = fields.Integer()


class ShelfReadingOut(Form):
    """A reading; a voided one keeps its reason and counts no more."""

    id = fields.String()
    shelf_id = fields.String()
    at = Instant()
    celsius = fields.Float()
    recorded_at = Instant()
    by = fields.String()
    voided_at = Instant(allow_none=True)
    void_reason = fields.String(allow_none=True)


class ShelfVoidIn(ActForm):
    """Why a reading is void."""

    reason = Text(longest=500, required=True)
