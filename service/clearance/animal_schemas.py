"""What goes in and out of tests with animals."""

from marshmallow import fields, validate

from service.clearance.rules_animals import Animal
from service.core.fields import Form, Instant, Text, Whole
from service.journal.web import ActForm

KIND = validate.OneOf([animal.value for animal in Animal])


class AnimalTestIn(ActForm):
    """How a test of soak water ended; `at` is when the animals were counted."""

    animal = fields.String(required=True, validate=KIND)
    animals = Whole(least=1, most=1000, required=True)
    alive = Whole(least=0, required=True)
    started_at = Instant(required=True, metadata={"description": "When they were put into the water."})
    note = Text(load_default=None, allow_none=True)


class AnimalTestOut(Form):
    """A test of the water that plants of a lot had soaked in."""

    id = fields.String()
    lot_id = fields.String()
    animal = fields.String(validate=KIND)
    animals = fields.Integer()
    alive = fields.Integer()
    started_at = Instant()
    ended_at = Instant()
    note = fields.String(allow_none=True)
    by = fields.String()


class AnimalTestsOut(Form):
    """The tests of a lot, the oldest first."""

    items = fields.List(fields.Nested(AnimalTestOut))
