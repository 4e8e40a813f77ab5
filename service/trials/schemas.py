"""What goes into trials."""

from collections.abc import Mapping
from typing import Any

from marshmallow import ValidationError, fields, validate, validates_schema

from service.catalogue.rules import Level
from service.core.fields import Form, Instant, Number, QueryWhole, Ref, Text, Whole
from service.core.pages import PageForm
from service.journal.web import ActForm
from service.photos.rules import MOST_OF_ONE_OBSERVATION
from service.photos.schemas import HASH, PhotoNamedIn
from service.trials.rules import MOST_UNITS, Stage
from service.trials.rules_conditions import SCALE

STAGES = validate.OneOf([stage.value for stage in Stage])
MOST_ROWS = 1000
SCORE_WORDS = "; ".join(f"{score}: {words}" for score, words in SCALE.items())


class TargetForm(Form):
    """A pest's stage that the trial is about."""

    pest = Text(longest=80, required=True)
    stage = fields.String(required=True, validate=STAGES)


class ArmIn(Form):
    """One way of treating; without a protocol it is the untreated control."""

    code = Text(longest=40, required=True)
    protocol = Text(longest=80, load_default=None, allow_none=True)
    version = Whole(least=1, most=10_000, load_default=None, allow_none=True)

    @validates_schema
    def _whole(self, body: Mapping[str, Any], **_: Any) -> None:
        if (body["protocol"] is None) != (body["version"] is None):
            raise ValidationError("Name a protocol and its version, or neither for the control.", "version")


class PowerForm(Form):
    """What the trial is to tell apart: shares that die, treated and not, and how surely."""

    treated = Number(least=0, most=1, required=True)
    control = Number(least=0, most=1, required=True)
    confidence = Number(least=0.5, most=0.999, load_default=0.95)
    power = Number(least=0.5, most=0.999, load_default=0.8)
    correlation = Number(
        least=0,
        most=0.9,
        load_default=0.05,
        metadata={
            "description": "How alike units of one tub fare; 0: as if each had its own. An assumption."
        },
    )

    @validates_schema
    def _unlike(self, body: Mapping[str, Any], **_: Any) -> None:
        if body["treated"] == body["control"]:
            raise ValidationError("What fares alike is never told apart.", "treated")


class TrialIn(ActForm):
    """A trial to lay out; it begins at `at`. Each source lot gives every arm as many units."""

    name = Text(longest=80, required=True)
    question = Text(longest=1000, required=True)
    arms = fields.List(fields.Nested(ArmIn), required=True, validate=validate.Length(1, 12))
    lot_ids = fields.List(Ref(), required=True, validate=validate.Length(1, 12))
    tub_ids = fields.List(Ref(), required=True, validate=validate.Length(1, 60))
    targets = fields.List(fields.Nested(TargetForm), required=True, validate=validate.Length(1, 20))
    units_per_arm = Whole(
        least=1,
        most=MOST_UNITS,
        load_default=None,
        allow_none=True,
        metadata={"description": "Of each source lot; by the power asked for if left out."},
    )
    power = fields.Nested(PowerForm, load_default=None, allow_none=True)
    seed = Whole(most=2**31 - 1, load_default=None, allow_none=True)
    blind = fields.Boolean(
        load_default=True,
        truthy={True},
        falsy={False},
        metadata={
            "description": "The trial's own answers name no arm to observers until it is closed. "
            "Treatments of its lots stay readable: let others look than those who treat. Each look says who "
            "could know."
        },
    )
    days = Whole(least=3, most=120, load_default=30)


class CountIn(Form):
    """A count at a label (a unit, or a tub for what is off the plants).

    Animals: `live` now, and `dead` found now and taken out. Eggs, in masses: those of day 0 as they look now,
    and `laid` since the last look. What is not counted was not looked for: a zero is written down.
    """

    label = Text(longest=20, required=True)
    pest = Text(longest=80, required=True)
    stage = fields.String(required=True, validate=STAGES)
    live = Whole(load_default=0)
    dead = Whole(load_default=0)
    clear = Whole(load_default=0)
    cloudy = Whole(load_default=0)
    white = Whole(load_default=0)
    hatched = Whole(load_default=0)
    laid = Whole(load_default=0)


def score() -> Whole:
    """One of the five points."""
    return Whole(
        least=1, most=5, load_default=None, allow_none=True, metadata={"description": f"{SCORE_WORDS}."}
    )


class ConditionIn(Form):
    """How a unit stands; emersed and submersed leaves are judged apart. A dead one has no scores."""

    label = Text(longest=20, required=True)
    grown = fields.String(load_default="submersed", validate=validate.OneOf(["emersed", "submersed"]))
    fate = fields.String(load_default="alive", validate=validate.OneOf(["alive", "dead", "taken"]))
    leaves = score()
    roots = score()
    melt = score()
    new_growth = score()


class HatchIn(Form):
    """An egg mass whose laying and hatching were both seen."""

    label = Text(longest=20, required=True)
    pest = Text(longest=80, required=True)
    laid_at = Instant(required=True)
    hatched_at = Instant(required=True)


class DummiesIn(Form):
    """A test of the observer's eye: dummies hidden by another person, and how many were found."""

    hidden = Whole(least=1, most=1000, required=True)
    found = Whole(most=1000, required=True)


class PhotoIn(Form):
    """A photo by its name and SHA-256; one that was sent to POST /photos is kept and shown here.

    Any other stays in the nursery's own files. `label` is the unit or tub it shows, null for the whole trial.
    """

    label = Text(longest=20, load_default=None, allow_none=True)
    file = fields.String(
        required=True,
        validate=validate.Regexp(
            r"^[^/\\\x00-\x1f]{1,190}\.(jpg|jpeg|png|webp|JPG|JPEG|PNG|WEBP)\Z",
            error="Give the name of a JPEG, PNG or WebP file (.jpg, .jpeg, .png, .webp), without a folder.",
        ),
    )
    sha256 = fields.String(required=True, validate=HASH)


class KeptPhotoIn(PhotoNamedIn):
    """A photo that is kept; `label` as in an observation."""

    label = Text(longest=20, load_default=None, allow_none=True)


class PhotosIn(ActForm):
    """Photos to add to an observation that was made."""

    photos = fields.List(
        fields.Nested(KeptPhotoIn),
        required=True,
        validate=validate.Length(min=1, max=MOST_OF_ONE_OBSERVATION),
    )


class ObservationIn(ActForm):
    """A look at a trial on a day of its schedule; it may be entered in parts."""

    day = Whole(most=365, required=True)
    counts = fields.List(fields.Nested(CountIn), load_default=list, validate=validate.Length(max=MOST_ROWS))
    conditions = fields.List(
        fields.Nested(ConditionIn), load_default=list, validate=validate.Length(max=MOST_ROWS)
    )
    hatches = fields.List(fields.Nested(HatchIn), load_default=list, validate=validate.Length(max=200))
    dummies = fields.List(fields.Nested(DummiesIn), load_default=list, validate=validate.Length(max=20))
    photos = fields.List(
        fields.Nested(PhotoIn), load_default=list, validate=validate.Length(max=MOST_OF_ONE_OBSERVATION)
    )
    observer = Text(longest=80, load_default=None, allow_none=True)
    note = Text(load_default=None, allow_none=True)


class VoidIn(Form):
    """Why an observation is void."""

    reason = Text(required=True)


class CloseIn(ActForm):
    """What the trial came to, in words; its lots then go on by the regular gates."""

    conclusion = Text(longest=1000, required=True)


class TrialQuery(PageForm):
    """Which trials."""

    state = fields.String(load_default=None, validate=validate.OneOf(["open", "closed"]))


class ObservationQuery(PageForm):
    """Which observations: of one day."""

    day = QueryWhole(most=365, load_default=None)


class AdoptedTolerance(Form):
    """How a plant takes the arm's method."""

    plant_id = Ref(required=True)
    level = fields.String(
        load_default=None, allow_none=True, validate=validate.OneOf([level.value for level in Level])
    )


class AdoptionIn(ActForm):
    """What to learn from an arm: all its stages if none are named; levels are the trial's if left out.

    `development` names pests whose T0 and K50, refitted from hatch dates, become the house's own figures: the
    quarantine clock uses them from then on. Of the control that alone can be learnt.
    """

    arm = Text(longest=40, required=True)
    stages = fields.List(
        fields.Nested(TargetForm), load_default=None, allow_none=True, validate=validate.Length(max=20)
    )
    tolerances = fields.List(
        fields.Nested(AdoptedTolerance), load_default=list, validate=validate.Length(max=20)
    )
    development = fields.List(Text(longest=80), load_default=list, validate=validate.Length(max=20))
    reason = Text(longest=500, required=True)
