"""What goes in and out of treatments and water changes."""

from collections.abc import Mapping
from typing import Any

from marshmallow import ValidationError, fields, validate, validates_schema

from service.core.fields import AmountField, AmountForm, Form, Instant, Number, Ref, Text, Whole
from service.core.pages import PageForm
from service.journal.web import ActForm
from service.protocols.sheet_schemas import SheetStepOut
from service.treatments.rules import State
from service.treatments.rules_stems import FEWEST_ELSEWHERE


class TreatmentQuery(PageForm):
    """Which treatments."""

    state = fields.String(load_default=None, validate=validate.OneOf([state.value for state in State]))
    tub = Ref(load_default=None)
    lot = Ref(load_default=None)


class TreatmentIn(ActForm):
    """A treatment to plan."""

    protocol = Text(longest=80, required=True)
    version = Whole(least=1, most=100_000, required=True)
    tub_id = Ref(required=True)
    lot_ids = fields.List(Ref(), required=True, validate=validate.Length(1, 200))
    tool_ids = fields.List(
        Ref(),
        load_default=list,
        validate=validate.Length(max=50),
        metadata={"description": "Nets, trays and buckets that will be used: what clings to them is judged."},
    )
    water_volume = AmountField(
        "volume",
        load_default=None,
        allow_none=True,
        metadata={
            "description": "The water in the tub, without plants and gravel; the tub's volume if null."
        },
    )
    share_water = fields.Boolean(
        load_default=False,
        truthy={True},
        falsy={False},
        metadata={"description": "Other lots stand in this water and may be touched."},
    )
    override_reason = Text(
        load_default=None,
        allow_none=True,
        metadata={"description": "An owner's reason to treat a plant that must avoid the method."},
    )
    trial_stems_reason = Text(
        load_default=None,
        allow_none=True,
        metadata={"description": "How that is known: needed with survived_here."},
    )
    survived_here = Whole(
        least=FEWEST_ELSEWHERE,
        load_default=None,
        allow_none=True,
        metadata={
            "description": "Plants of this kind that the method left alive here; stands in for trial stems."
        },
    )

    @validates_schema
    def survived_is_explained(self, form: Mapping[str, Any], **_kwargs: Any) -> None:
        """Whoever says that so many survived says how he knows."""
        if form.get("survived_here") is not None and not form.get("trial_stems_reason"):
            raise ValidationError("Say how that is known.", "trial_stems_reason")


class PouredIn(Form):
    """What was really poured of a batch."""

    batch_id = Ref(required=True)
    amount = AmountField("volume", "mass", required=True)


class StartIn(ActForm):
    """The start of a step; `poured` in place of what the sheet says, or a bath that was mixed for it."""

    poured = fields.List(fields.Nested(PouredIn), load_default=list, validate=validate.Length(max=20))
    bath_id = Ref(load_default=None, allow_none=True)

    @validates_schema
    def one_of_them(self, form: Mapping[str, Any], **_kwargs: Any) -> None:
        """What is in a bath was poured when it was mixed."""
        if form.get("poured") and form.get("bath_id"):
            raise ValidationError("What is in the bath was poured when it was mixed.", "poured")


class FinishStepIn(ActForm):
    """The end of a step; outside its limits a departure is required."""

    departure = Text(load_default=None, allow_none=True)


class FinishIn(ActForm):
    """The end of a treatment; the lots stay in the tub unless another is named."""

    to_tub_id = Ref(load_default=None, allow_none=True)
    share_water = fields.Boolean(load_default=False, truthy={True}, falsy={False})


class AbandonIn(ActForm):
    """Stopped early."""

    reason = Text(required=True)


class DrawnOut(Form):
    """What was taken from a batch."""

    material = fields.String()
    batch_id = fields.String()
    amount = fields.Nested(AmountForm)


class PouredOut(Form):
    """What was really poured of a batch."""

    batch_id = fields.String()
    amount = fields.Nested(AmountForm)


class StepOut(Form):
    """One step of a treatment."""

    n = fields.Integer()
    kind = fields.String()
    title = fields.String()
    state = fields.String()
    due_at = Instant(allow_none=True)
    started_at = Instant(allow_none=True)
    finished_at = Instant(allow_none=True)
    departure = fields.String(allow_none=True)
    bath_id = fields.String(allow_none=True)
    sheet = fields.Nested(SheetStepOut, allow_none=True)
    poured = fields.List(fields.Nested(PouredOut))
    result_mg_per_l = fields.Float(allow_none=True)
    drawn = fields.List(fields.Nested(DrawnOut))


class TreatmentOut(Form):
    """A treatment."""

    id = fields.String()
    protocol = fields.String()
    version = fields.Integer(metadata={"description": "Of the protocol."})
    tub_id = fields.String()
    lot_ids = fields.List(fields.String())
    water_volume = fields.Nested(AmountForm)
    state = fields.String()
    planned_at = Instant()
    started_at = Instant(allow_none=True)
    ended_at = Instant(allow_none=True)
    departure = fields.String(allow_none=True)
    override_reason = fields.String(allow_none=True)
    trial_stems_reason = fields.String(allow_none=True)
    survived_here = fields.Integer(allow_none=True)
    lost_at_most = fields.Float(
        allow_none=True,
        metadata={"description": "Share that the method may cost, with 95 %, when so many survived it."},
    )
    by = fields.String()
    steps = fields.List(fields.Nested(StepOut))


class WaterChangeIn(ActForm):
    """A share of the water replaced."""

    fraction = Number(above=0, most=1, load_default=1.0)
    redose = fields.Boolean(load_default=False, truthy={True}, falsy={False})
    poured = fields.List(fields.Nested(PouredIn), load_default=list, validate=validate.Length(max=20))


class WaterChangeOut(Form):
    """A water change as booked."""

    id = fields.String()
    tub_id = fields.String()
    at = Instant()
    fraction = fields.Float()
    redose = fields.Boolean()
    treatment_id = fields.String(allow_none=True)
    drawn = fields.List(fields.Nested(DrawnOut))
    due_next = Instant(allow_none=True)
    before_mg_per_l = fields.Float(allow_none=True)
    after_change_mg_per_l = fields.Float(allow_none=True)
    dose_mg_per_l = fields.Float(allow_none=True)
    extra_change = fields.Float(
        allow_none=True, metadata={"description": "Further share of water to change to come down to target."}
    )
