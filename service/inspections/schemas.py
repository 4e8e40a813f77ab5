"""What goes in and out of inspections and sampling plans."""

from collections.abc import Mapping
from typing import Any

from marshmallow import ValidationError, fields, validate, validates_schema

from service.core.fields import Exact, Form, Instant, Number, QueryWhole, Ref, Text, Whole
from service.core.pages import PageForm
from service.inspections.rules import LookMethod, Stage
from service.journal.web import ActForm
from service.photos.rules import MOST_OF_ONE_LOOK
from service.photos.schemas import PhotoNamedIn, PhotoOut
from service.science.sampling import LARGEST_LOT

JUST_BELOW_ONE = "0.999999999"


class FindingIn(Form):
    """A pest that was found; `removed` when it was picked off."""

    pest = Text(longest=80, required=True)
    stage = fields.String(required=True, validate=validate.OneOf([stage.value for stage in Stage]))
    live = Whole(load_default=0)
    dead = Whole(load_default=0)
    removed = fields.Boolean(load_default=False, truthy={True}, falsy={False})


class LookedAtForm(Form):
    """How many of one part of the lot were looked at."""

    name = Text(longest=80, required=True)
    looked_at = Whole(required=True)


class SealForm(Form):
    """What every cup shows that counts as sealed."""

    lid_whole = fields.Boolean(required=True, truthy={True}, falsy={False}, validate=validate.Equal(True))
    gel_clean = fields.Boolean(required=True, truthy={True}, falsy={False}, validate=validate.Equal(True))


class InspectionIn(ActForm):
    """A look at a lot or at a tub; an empty list of findings says that nothing was found."""

    lot_id = Ref(load_default=None, allow_none=True)
    tub_id = Ref(load_default=None, allow_none=True)
    method = fields.String(
        load_default=LookMethod.EYES.value,
        validate=validate.OneOf([method.value for method in LookMethod]),
    )
    seal = fields.Nested(
        SealForm,
        load_default=None,
        allow_none=True,
        metadata={"description": "Of `sealed_cup`: cups of a supplier who grows in vitro, never in a tub."},
    )
    sample_size = Whole(
        load_default=None,
        allow_none=True,
        metadata={"description": "Units looked at; needed for eyes at a lot, all if left out at a tub."},
    )
    sample_unit = fields.String(
        load_default="unit",
        validate=validate.OneOf(["unit", "g"]),
        metadata={"description": "Grams only for moss, portions and mats."},
    )
    strata = fields.List(
        fields.Nested(LookedAtForm),
        load_default=list,
        validate=validate.Length(max=20),
        metadata={"description": "Of a lot with parts: a look at some of it counts when each part is in it."},
    )
    findings = fields.List(fields.Nested(FindingIn), required=True, validate=validate.Length(max=200))
    photos = fields.List(
        fields.Nested(PhotoNamedIn), load_default=list, validate=validate.Length(max=MOST_OF_ONE_LOOK)
    )
    inspector = Text(longest=80, load_default=None, allow_none=True)
    note = Text(load_default=None, allow_none=True)

    @validates_schema
    def exactly_one_place(self, body: Mapping[str, Any], **_: Any) -> None:
        """A look is at a lot or at a tub."""
        if (body["lot_id"] is None) == (body["tub_id"] is None):
            raise ValidationError("Name a lot_id or a tub_id, and not both.", "lot_id")

    @validates_schema
    def seal_of_cups(self, body: Mapping[str, Any], **_: Any) -> None:
        """Sealed cups are looked at as a lot, and only they have a seal."""
        sealed = body["method"] == LookMethod.SEALED_CUP
        if sealed and body["tub_id"] is not None:
            raise ValidationError("Sealed cups stand in no tub: name their lot_id.", "tub_id")
        if sealed != (body["seal"] is not None):
            raise ValidationError("Say lid_whole and gel_clean of sealed_cup, and of nothing else.", "seal")


class VoidLookIn(Form):
    """Why a look is void."""

    reason = Text(required=True)


class InspectionQuery(PageForm):
    """Which looks: those that count for a lot, or those at a tub."""

    lot = Ref(load_default=None)
    tub = Ref(load_default=None)


class FindingOut(Form):
    """A pest that was found."""

    pest = fields.String()
    stage = fields.String()
    live = fields.Integer()
    dead = fields.Integer()
    removed = fields.Boolean()


class InspectionOut(Form):
    """A look; `clean`: nothing alive that starts quarantine anew."""

    id = fields.String()
    lot_id = fields.String(allow_none=True)
    tub_id = fields.String(allow_none=True)
    at = Instant()
    method = fields.String()
    sample_size = fields.Integer()
    sample_unit = fields.String()
    lot_size = fields.Integer(allow_none=True)
    strata = fields.List(fields.Nested(LookedAtForm))
    full = fields.Boolean()
    clean = fields.Boolean()
    inspector = fields.String()
    note = fields.String(allow_none=True)
    findings = fields.List(fields.Nested(FindingOut))
    photos = fields.List(fields.Nested(PhotoOut))
    recorded_at = Instant()
    by = fields.String()
    voided_at = Instant(allow_none=True)
    voided_by = fields.String(allow_none=True)
    void_reason = fields.String(allow_none=True)


class PlanQuery(Form):
    """A lot, the share of infested units to find, how surely, and how well a look finds one."""

    lot_size = QueryWhole(least=1, most=LARGEST_LOT, required=True)
    detection_level = Exact(most="1", above=True, required=True)
    confidence = Exact(most=JUST_BELOW_ONE, above=True, required=True)
    sensitivity = Number(above=0, most=1, text=True, required=True)


class PlanOut(Form):
    """How many units to look at; `looks_needed` times all of them when one look is not enough."""

    sample_size = fields.Integer(allow_none=True)
    reachable = fields.Boolean()
    looks_needed = fields.Integer()
    minutes = fields.Integer(metadata={"description": "For all looks needed, at 45 seconds a unit."})
    achieved_confidence = fields.Float()
    infested_units_assumed = fields.Integer()
    lot_size = fields.Integer()
    detection_level = fields.Float()
    confidence = fields.Float()
    sensitivity = fields.Float()
    formula = fields.String()
    source = fields.String()
