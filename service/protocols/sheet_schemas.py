"""What goes into a mixing sheet, and its documented shape."""

from marshmallow import fields, validate

from service.core.fields import AmountField, AmountForm, Form, Instant, Ref, Text, Whole


class MixingSheetIn(Form):
    """What to compute a sheet for; batches left out: first expired, first out."""

    protocol = Text(longest=80, required=True)
    version = Whole(least=1, most=100_000, required=True)
    water_volume = AmountField("volume", required=True)
    batches = fields.Dict(
        keys=fields.String(validate=validate.Length(max=80)), values=Ref(), load_default=dict
    )
    computed_for = Instant(
        load_default=None, metadata={"description": "The moment whose strengths count; now if left out."}
    )


class SheetAmountOut(Form):
    """What is measured of one batch."""

    material = fields.String()
    batch_id = fields.String(allow_none=True, metadata={"description": "None: not in stock."})
    strength_used = fields.Nested(AmountForm)
    aged = fields.Boolean()
    calculated = fields.Nested(AmountForm)
    measured = fields.Nested(AmountForm)
    also = fields.List(fields.Nested(AmountForm))
    device = fields.String()
    reads = fields.Nested(AmountForm)
    rounding_error = fields.Float()


class ElementOut(Form):
    """The metal in the bath."""

    symbol = fields.String()
    value = fields.Float()
    unit = fields.String()


class ResultOut(Form):
    """What the bath will hold by what is measured."""

    substance = fields.String()
    value = fields.Float()
    unit = fields.String()
    element = fields.Nested(ElementOut)


class DurationOut(Form):
    """How long a step lasts."""

    target = fields.Nested(AmountForm)
    min = fields.Nested(AmountForm)
    max = fields.Nested(AmountForm)


class SheetStepOut(Form):
    """The sheet of one step."""

    n = fields.Integer()
    kind = fields.String()
    title = fields.String(allow_none=True)
    instructions = fields.String(allow_none=True)
    duration = fields.Nested(DurationOut)
    water = fields.Nested(AmountForm)
    order = fields.List(fields.String())
    result = fields.Nested(ResultOut, allow_none=True)
    amounts = fields.List(fields.Nested(SheetAmountOut))


class WithOut(Form):
    """What goes with a neutraliser."""

    material = fields.String()
    amount = fields.Nested(AmountForm)


class NeutraliserOut(Form):
    """What makes the spent bath harmless."""

    material = fields.String()
    agent = fields.String(allow_none=True)
    purpose = fields.String()
    amount = fields.Nested(AmountForm, allow_none=True)
    safety_factor = fields.Float(allow_none=True)
    safety = fields.String()
    with_ = fields.Nested(WithOut, allow_none=True, attribute="with", data_key="with")
    note = fields.String()
    test = fields.String()


class ShortageOut(Form):
    """What no batch holds."""

    material = fields.String()
    missing = fields.Nested(AmountForm)


class MixingSheetOut(Form):
    """A mixing sheet."""

    protocol = fields.String()
    version = fields.Integer()
    water_volume = fields.Nested(AmountForm)
    computed_for = Instant()
    reference_version = fields.String(allow_none=True)
    cautions = fields.List(fields.String())
    warnings = fields.List(fields.String())
    protective_wear = fields.List(fields.String())
    neutraliser = fields.Nested(NeutraliserOut, allow_none=True)
    disposal = fields.String()
    enough = fields.Boolean()
    shortages = fields.List(fields.Nested(ShortageOut))
    steps = fields.List(fields.Nested(SheetStepOut))
