"""What goes in and out of tubs."""

from marshmallow import fields, validate

from service.core.fields import AmountField, AmountForm, Form, Instant, Number, Ref, Text
from service.core.pages import PageForm
from service.journal.web import ActForm
from service.tubs.rules import MOST_READINGS, Disinfection, Substance, ToolKind

SUBSTANCES = validate.OneOf([substance.value for substance in Substance])


class TubPatch(Form):
    """What may change about a tub."""

    code = Text(longest=40)
    place = Text(longest=200, allow_none=True)
    volume = AmountField("volume")
    set_point = AmountField("temperature", signed=True, allow_none=True)
    water_system_id = Ref(allow_none=True)
    active = fields.Boolean(truthy={True}, falsy={False})


class TubIn(TubPatch):
    """A tub to add."""

    code = Text(longest=40, required=True)
    volume = AmountField("volume", required=True)


class TubOut(Form):
    """A tub."""

    id = fields.String()
    code = fields.String()
    place = fields.String(allow_none=True)
    volume = fields.Nested(AmountForm)
    set_point = fields.Nested(AmountForm, allow_none=True)
    water_system_id = fields.String(allow_none=True)
    filling_since = Instant(allow_none=True)
    active = fields.Boolean()
    created_at = Instant()
    version = fields.Integer()


class WaterSystemIn(Form):
    """A water system to add."""

    name = Text(longest=80, required=True)


class WaterSystemOut(Form):
    """A water system."""

    id = fields.String()
    name = fields.String()
    created_at = Instant()
    version = fields.Integer()


class ToolIn(Form):
    """A tool to add."""

    code = Text(longest=40, required=True)
    kind = fields.String(required=True, validate=validate.OneOf([kind.value for kind in ToolKind]))


class ToolOut(Form):
    """A tool."""

    id = fields.String()
    code = fields.String()
    kind = fields.String()
    created_at = Instant()
    version = fields.Integer()


class ToolDetailOut(ToolOut):
    """A tool, with the tub whose water it carries."""

    carries_water_of = fields.String(allow_none=True)


class UseIn(ActForm):
    """A tool touches a tub's water."""

    tub_id = Ref(required=True)


class UseOut(Form):
    """What the tool carried: the other water it was in, when it was not disinfected since."""

    id = fields.String()
    tool_id = fields.String()
    tub_id = fields.String()
    at = Instant()
    contact = fields.Boolean()
    from_tub_id = fields.String(allow_none=True)
    from_at = Instant(allow_none=True)


class DisinfectionIn(ActForm):
    """What was done to a tool."""

    method = fields.String(required=True, validate=validate.OneOf([way.value for way in Disinfection]))
    celsius = Number(least=-80, most=300, load_default=None, allow_none=True)
    minutes = Number(above=0, most=100_000, required=True)


class DisinfectionOut(Form):
    """Whether it breaks the contact with the waters the tool was in."""

    id = fields.String()
    tool_id = fields.String()
    at = Instant()
    method = fields.String()
    celsius = fields.Float(allow_none=True)
    minutes = fields.Float()
    breaks_contact = fields.Boolean()


class MeasurementIn(ActForm):
    """What a test kit read: mg/L, or pH."""

    substance = fields.String(required=True, validate=SUBSTANCES)
    value = Number(least=0, most=100_000, required=True)
    kit = Text(longest=200, required=True)
    kit_limit = Number(least=0, most=1000, load_default=None, allow_none=True)


class MeasurementOut(Form):
    """What a test kit read."""

    id = fields.String()
    tub_id = fields.String()
    at = Instant()
    substance = fields.String()
    value = fields.Float()
    unit = fields.String()
    kit = fields.String()
    kit_limit = fields.Float(allow_none=True)
    recorded_at = Instant()
    by = fields.String()


class MeasurementQuery(PageForm):
    """Which measurements."""

    substance = fields.String(validate=SUBSTANCES, load_default=None)


class ReadingIn(Form):
    """The water's temperature at one moment."""

    at = Instant(required=True)
    value = Number(least=-500, most=500, required=True)
    unit = fields.String(required=True, validate=validate.OneOf(["Cel", "[degF]"]))


class TemperaturesIn(Form):
    """One reading (`at`, `value`, `unit`) or a series (`readings`); a logger is its own late reason."""

    at = Instant(load_default=None, allow_none=True)
    value = Number(least=-500, most=500)
    unit = fields.String(validate=validate.OneOf(["Cel", "[degF]"]))
    readings = fields.List(fields.Nested(ReadingIn), validate=validate.Length(1, MOST_READINGS))
    late_reason = Text(load_default=None, allow_none=True)
    logger = fields.Boolean(load_default=False, truthy={True}, falsy={False})


class TemperaturesOut(Form):
    """How many readings were new and how many known; the id when it was a single one."""

    id = fields.String(allow_none=True)
    recorded = fields.Integer()
    repeated = fields.Integer()
    first_at = Instant(data_key="from")
    last_at = Instant(data_key="to")


class TemperatureQuery(PageForm):
    """Which readings; voided ones only when asked for."""

    start = Instant(data_key="from", load_default=None)
    end = Instant(data_key="to", load_default=None)
    voided = fields.Boolean(load_default=False, truthy={"true"}, falsy={"false"})


class TemperatureOut(Form):
    """A temperature; a voided one keeps its reason."""

    id = fields.String()
    tub_id = fields.String()
    at = Instant()
    value = fields.Float()
    unit = fields.String()
    entered = fields.Raw()
    recorded_at = Instant()
    by = fields.String()
    voided_at = Instant(allow_none=True)
    void_reason = fields.String(allow_none=True)


class LogQuery(Form):
    """How a CSV file writes numbers; its delimiter is found in its header."""

    decimal_mark = fields.String(validate=validate.OneOf([".", ","]), load_default=".")


class VoidIn(ActForm):
    """Why an entry is void."""

    reason = Text(longest=500, required=True)
