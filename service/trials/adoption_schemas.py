"""The documented shape of what was learnt from a trial."""

from marshmallow import fields

from service.core.fields import Form, Instant


class AdoptedCreditOut(Form):
    """A kill credited: what it was, what it is with its limits, and by which grade."""

    pest = fields.String()
    stage = fields.String()
    before = fields.Float(allow_none=True)
    kill = fields.Float()
    low = fields.Float()
    high = fields.Float()
    grade = fields.String()
    trial_grade = fields.String()
    source = fields.String()


class AdoptedToleranceOut(Form):
    """A tolerance set: what it was and is."""

    plant_id = fields.String()
    method = fields.String()
    before = fields.String()
    level = fields.String()
    why = fields.String()


class PublishedOut(Form):
    """T0 and K50 as the reference data has them."""

    lower_threshold_c = fields.Float()
    thermal_constant_dd = fields.Float()


class ThresholdRangeOut(Form):
    """The believable thresholds; of all the slowest counts."""

    low_c = fields.Float()
    high_c = fields.Float()


class AdoptedDevelopmentOut(PublishedOut):
    """The house's own figures of a pest's eggs, in force from now on, and the least share of wait left."""

    pest = fields.String()
    house_number = fields.Integer()
    lower_threshold_range = fields.Nested(ThresholdRangeOut)
    masses = fields.Integer()
    trials = fields.Integer()
    share_of_published_wait = fields.Float()
    published = fields.Nested(PublishedOut)


class AdoptionOut(Form):
    """What was learnt from an arm: the new version of its protocol, tolerances, development of eggs."""

    id = fields.String()
    trial_id = fields.String()
    arm = fields.String()
    at = Instant()
    by = fields.String()
    reason = fields.String()
    protocol = fields.String(allow_none=True)
    version = fields.Integer(allow_none=True)
    credits = fields.List(fields.Nested(AdoptedCreditOut))
    tolerances = fields.List(fields.Nested(AdoptedToleranceOut))
    development = fields.List(fields.Nested(AdoptedDevelopmentOut))
