"""Trials and observations as answered."""

from marshmallow import fields, validate

from service.core.fields import Form, Instant
from service.photos.schemas import PhotoOut
from service.trials.rules import When
from service.trials.schemas import PowerForm, TargetForm


class TrialRowOut(Form):
    """A trial as listed; the seed of a blind one is shown once it is closed."""

    id = fields.String()
    name = fields.String()
    question = fields.String()
    targets = fields.List(fields.Nested(TargetForm))
    seed = fields.Integer(allow_none=True)
    blind = fields.Boolean()
    units_per_arm = fields.Integer()
    power = fields.Nested(PowerForm, allow_none=True)
    starts_at = Instant()
    days = fields.Integer()
    recorded_at = Instant()
    by = fields.String()
    closed_at = Instant(allow_none=True)
    closed_by = fields.String(allow_none=True)
    conclusion = fields.String(allow_none=True)
    version = fields.Integer()


class ArmOut(Form):
    """An arm: its protocol version, none for the control."""

    code = fields.String()
    control = fields.Boolean()
    protocol = fields.String(allow_none=True)
    version = fields.Integer(allow_none=True)


class TrialTubOut(Form):
    """A tub of the trial; its arm stays hidden from those who observe blind."""

    label = fields.String()
    tub_id = fields.String()
    tub_code = fields.String()
    arm = fields.String(allow_none=True)


class TrialUnitOut(Form):
    """A unit: its number in its source, its label, where it stands."""

    label = fields.String()
    tub = fields.String()
    lot_id = fields.String()
    lot_code = fields.String()
    plant = fields.String()
    source_lot_id = fields.String()
    source_number = fields.Integer()


class ScheduledOut(Form):
    """A look of the schedule and how it stands."""

    day = fields.Integer()
    due_at = Instant()
    state = fields.String(validate=validate.OneOf([when.value for when in When]))
    observed_at = Instant(allow_none=True)


class WarningOut(Form):
    """What the layout cannot give."""

    code = fields.String()
    detail = fields.String()


class TrialOut(TrialRowOut):
    """A trial with its layout, schedule and warnings."""

    arms = fields.List(fields.Nested(ArmOut))
    tubs = fields.List(fields.Nested(TrialTubOut))
    units = fields.List(fields.Nested(TrialUnitOut))
    schedule = fields.List(fields.Nested(ScheduledOut))
    units_needed = fields.Integer(
        allow_none=True, metadata={"description": "An arm, by the power asked for."}
    )
    warnings = fields.List(fields.Nested(WarningOut))
    score_words = fields.String(metadata={"description": "What the five points mean."})


class ObservationOut(Form):
    """An observation."""

    id = fields.String()
    trial_id = fields.String()
    day = fields.Integer()
    at = Instant()
    recorded_at = Instant()
    by = fields.String()
    observer = fields.String()
    note = fields.String(allow_none=True)
    counts = fields.List(fields.Dict())
    conditions = fields.List(fields.Dict())
    hatches = fields.List(fields.Dict())
    dummies = fields.List(fields.Dict())
    photos = fields.List(fields.Dict())
    kept_photos = fields.List(fields.Nested(PhotoOut))
    inspections = fields.List(fields.String())
    could_know = fields.String(
        allow_none=True, metadata={"description": "Why its observer could know the arms of a blind trial."}
    )
    voided_at = Instant(allow_none=True)
    voided_by = fields.String(allow_none=True)
    void_reason = fields.String(allow_none=True)
