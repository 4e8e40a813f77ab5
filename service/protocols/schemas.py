"""What goes in and out of protocols: the written treatment."""

from typing import get_args

from marshmallow import fields, validate

from service.catalogue.rules import Method
from service.core.fields import Form, Instant, Number, Text, Whole
from service.protocols.rules import Kind
from service.reference.protocols import EfficacyGrade
from service.reference.words import Grade, Stage, Substance
from service.science.neutralising import Agent

CODE = validate.Regexp(r"^[a-z0-9]+(-[a-z0-9]+)*$", error="Small letters, digits and hyphens.")
LONGEST_S = 366 * 86400


def one_of(words: object) -> validate.OneOf:
    """One of the words of a Literal."""
    return validate.OneOf(list(get_args(words)))


class SourcedForm(Form):
    """Figures with where they come from."""

    source = Text(longest=500, load_default="Own practice")
    grade = fields.String(load_default="practice", validate=one_of(Grade))


class DoseForm(Form):
    """An amount of substance in water."""

    value = Number(above=0, most=1_000_000, required=True)
    unit = fields.String(required=True, validate=validate.OneOf(["mg/L", "g/L"]))


class TargetForm(Form):
    """What a bath should hold."""

    substance = fields.String(required=True, validate=one_of(Substance))
    value = Number(above=0, most=1_000_000, required=True)
    unit = fields.String(required=True, validate=validate.OneOf(["mg/L"]))


class DurationForm(Form):
    """How long a step lasts, with its limits, in seconds."""

    target_s = Whole(most=LONGEST_S, required=True)
    min_s = Whole(most=LONGEST_S, required=True)
    max_s = Whole(least=1, most=LONGEST_S, required=True)


class StepForm(SourcedForm):
    """One step of a treatment."""

    n = Whole(least=1, most=50, required=True)
    kind = fields.String(required=True, validate=validate.OneOf([kind.value for kind in Kind]))
    title = Text(longest=200, required=True)
    instructions = Text(shortest=0, load_default="")
    duration = fields.Nested(DurationForm, required=True)
    volume_share = Number(above=0, most=1, load_default=1.0)
    material = Text(longest=80, load_default=None, allow_none=True)
    dose = fields.Nested(DoseForm, load_default=None, allow_none=True)
    basis = fields.String(load_default="make_up_to", validate=validate.OneOf(["make_up_to"]))
    agent = fields.String(load_default=None, allow_none=True, validate=one_of(Agent))
    purpose = fields.String(load_default=None, allow_none=True, validate=validate.OneOf(["rinse"]))
    assumed_residue = fields.Nested(TargetForm, load_default=None, allow_none=True)
    kills_adults = fields.Boolean(load_default=False, truthy={True}, falsy={False})


class RhythmForm(SourcedForm):
    """The rhythm of water changes."""

    per_week = Whole(least=1, most=14, load_default=2)
    every_days = fields.List(Whole(least=1, most=60), required=True, validate=validate.Length(1, 14))
    fraction = Number(above=0, most=1, required=True)
    redose = fields.Boolean(load_default=False, truthy={True}, falsy={False})


class MaintainedForm(SourcedForm):
    """The level a course is held at."""

    substance = fields.String(required=True, validate=one_of(Substance))
    value = Number(above=0, most=1_000_000, required=True)
    unit = fields.String(required=True, validate=validate.OneOf(["mg/L"]))
    decay_per_day = Number(least=0, most=10, required=True)


class CreditedAfterForm(SourcedForm):
    """The dose of a course after which the adults count as dead."""

    dose = Whole(least=1, most=100, required=True)
    measured_share_of_target = Number(above=0, most=1, required=True)


class MeasuredCourseForm(SourcedForm):
    """Readings that earn a credit."""

    min_mg_per_l = Number(above=0, most=1_000_000, required=True)
    hours = Whole(least=1, most=10_000, load_default=None, allow_none=True)
    doses = Whole(least=1, most=100, load_default=None, allow_none=True)


class BathForm(SourcedForm):
    """How long a mixed bath may serve."""

    discard_after_s = Whole(least=1, most=LONGEST_S, required=True)
    discard_below_share = Number(above=0, most=1, required=True)


class BetaForm(Form):
    """A kill as a Beta distribution: so many animals' worth killed and left."""

    killed = Number(above=0, most=1_000_000, required=True)
    survived = Number(above=0, most=1_000_000, required=True)


class CreditForm(Form):
    """The share of a pest's stage that the treatment kills, with the evidence."""

    pest = Text(longest=80, required=True)
    stage = fields.String(required=True, validate=one_of(Stage))
    kill = Number(least=0, most=1, required=True)
    grade = fields.String(required=True, validate=one_of(EfficacyGrade))
    source = Text(longest=500, required=True)
    needs_measured_course = fields.Boolean(load_default=False, truthy={True}, falsy={False})
    beta = fields.Nested(BetaForm, load_default=None, allow_none=True)


class NeutraliserForm(SourcedForm):
    """What makes the spent bath harmless."""

    material = Text(longest=80, required=True)
    agent = fields.String(load_default=None, allow_none=True, validate=one_of(Agent))
    purpose = fields.String(load_default="disposal", validate=validate.OneOf(["disposal"]))
    mg_per_mg = Number(above=0, most=1000, load_default=None, allow_none=True)
    with_material = Text(longest=80, load_default=None, allow_none=True)
    note = Text(shortest=0, load_default="")


class ResidueForm(SourcedForm):
    """What stays on plants and in tubs."""

    kind = fields.String(required=True, validate=validate.OneOf(["none", *get_args(Substance)]))
    limit = fields.Nested(DoseForm, load_default=None, allow_none=True)


class ContentForm(SourcedForm):
    """A written treatment."""

    name = Text(longest=200, required=True)
    summary = Text(shortest=0, load_default="")
    substance = fields.String(load_default=None, allow_none=True, validate=one_of(Substance))
    target = fields.Nested(TargetForm, load_default=None, allow_none=True)
    steps = fields.List(fields.Nested(StepForm), required=True, validate=validate.Length(1, 50))
    water_change = fields.Nested(RhythmForm, load_default=None, allow_none=True)
    aftercare = fields.Nested(RhythmForm, load_default=None, allow_none=True)
    maintained_dose = fields.Nested(MaintainedForm, load_default=None, allow_none=True)
    adults_credited_after = fields.Nested(CreditedAfterForm, load_default=None, allow_none=True)
    measured_course = fields.List(
        fields.Nested(MeasuredCourseForm), load_default=list, validate=validate.Length(max=10)
    )
    bath = fields.Nested(BathForm, load_default=None, allow_none=True)
    credits = fields.List(fields.Nested(CreditForm), load_default=list, validate=validate.Length(max=200))
    soak_counts_half = fields.Boolean(load_default=True, truthy={True}, falsy={False})
    avoid_wool = fields.Boolean(load_default=False, truthy={True}, falsy={False})
    residue = fields.Nested(ResidueForm, load_default=None, allow_none=True)
    neutraliser = fields.Nested(NeutraliserForm, load_default=None, allow_none=True)
    cautions = fields.List(Text(longest=500), required=True, validate=validate.Length(1, 50))
    protective_wear = fields.List(Text(longest=200), load_default=list, validate=validate.Length(max=50))
    disposal = Text(required=True)


class ProtocolIn(ContentForm):
    """A protocol to add, with its first version."""

    code = fields.String(required=True, validate=[CODE, validate.Length(max=80)])
    method = fields.String(required=True, validate=validate.OneOf([method.value for method in Method]))


class ProtocolOut(Form):
    """A protocol as listed."""

    id = fields.String()
    code = fields.String()
    method = fields.String()
    name = fields.String()
    latest_version = fields.Integer()
    created_at = Instant()
    version = fields.Integer()


class VersionOut(Form):
    """One version of a protocol; it never changes."""

    protocol = fields.String()
    version = fields.Integer()
    method = fields.String()
    name = fields.String()
    content = fields.Dict(metadata={"description": "The written treatment."})
    reference_version = fields.String(allow_none=True)
    created_at = Instant()
    created_by = fields.String()
