"""What goes in and out of baths."""

from marshmallow import fields, validate

from service.core.fields import AmountField, AmountForm, Form, Instant, Text, Whole
from service.core.pages import PageForm
from service.journal.web import ActForm
from service.protocols.sheet_schemas import SheetStepOut
from service.treatments.schemas import PouredIn, PouredOut


class BathQuery(PageForm):
    """Which baths."""

    open = fields.Boolean(
        load_default=False, metadata={"description": "Only those that were not thrown away."}
    )


class BathIn(ActForm):
    """One bath for several lots in turn; `poured` in place of what the sheet says."""

    protocol = Text(longest=80, required=True)
    version = Whole(least=1, most=100_000, required=True)
    step = Whole(least=1, most=100, required=True)
    volume = AmountField("volume", required=True)
    plant_load_limit = Whole(least=1, most=100_000, load_default=None, allow_none=True)
    poured = fields.List(fields.Nested(PouredIn), load_default=list, validate=validate.Length(max=20))


class BathTestIn(ActForm):
    """What a test kit read in the bath."""

    strength = AmountField("concentration", required=True, zero=True)
    kit = Text(longest=200, required=True)


class BathDiscardIn(ActForm):
    """Why the bath is thrown away."""

    reason = Text(longest=500, required=True)


class BathReadingOut(Form):
    """What a test kit read in the bath."""

    at = Instant()
    mg_per_l = fields.Float()


class BathOut(Form):
    """A bath, whether it may be used now, and the lots that were in it."""

    id = fields.String()
    protocol = fields.String()
    version = fields.Integer(metadata={"description": "Of the protocol."})
    step = fields.Integer()
    volume = fields.Nested(AmountForm)
    plant_load_limit = fields.Integer(allow_none=True)
    plants = fields.Integer(metadata={"description": "That were in it so far."})
    lot_ids = fields.List(fields.String())
    mixed_at = Instant()
    discard_at = Instant(metadata={"description": "After this moment it takes no lot."})
    discarded_at = Instant(allow_none=True)
    discard_reason = fields.String(allow_none=True)
    target_mg_per_l = fields.Float()
    mixed_mg_per_l = fields.Float(metadata={"description": "By what was poured."})
    holds_mg_per_l = fields.Float(metadata={"description": "By the last test, else by what was poured."})
    readings = fields.List(fields.Nested(BathReadingOut))
    usable = fields.Boolean()
    why_not = fields.List(fields.String())
    sheet = fields.Nested(SheetStepOut)
    poured = fields.List(fields.Nested(PouredOut))
    by = fields.String()
